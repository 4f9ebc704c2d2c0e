import type { DatabaseSync } from 'node:sqlite';
import { exposedOf, foldProjects, type ProjectFootprint } from '../../core/assess/footprint.ts';
import type { ProjectSum } from '../../core/store-ports.ts';
import { openCoverage } from './coverage.ts';
import type { Sums } from './sums.ts';

/**
 * The sums of every project with its exposure: footage with fewer than `wantedCopies` verified copies. Read from the running
 * sums; what is covered is counted from the side of the copies, so no copies cost nothing.
 */
export function openProjects(database: DatabaseSync, sums: Sums, isLost: () => boolean) {
  const coverage = openCoverage(database, () => performance.now());
  return (wantedCopies: number): ProjectSum[] => {
    const entries = foldProjects(sums.files(), sums.clips());
    if (isLost()) return entries.map(({ exposable: _, ...entry }) => ({ ...entry, exposed: null }));
    coverage.refresh(wantedCopies);
    return entries.map(({ exposable, ...entry }: ProjectFootprint) => {
      const safe = wantedCopies < 1 ? exposable : coverage.covered(entry);
      return { ...entry, exposed: exposedOf(exposable, safe, coverage.since(entry)) };
    });
  };
}
