import type { DatabaseSync } from 'node:sqlite';
import { exposedOf, foldProjects, type ProjectFootprint } from '../../core/assess/footprint.ts';
import { type CopiesWanted, type MadeSum, noCopies, type ProjectCopies } from '../../core/backup/project-copies.ts';
import type { Instant } from '../../core/model.ts';
import type { ProjectSum } from '../../core/store-ports.ts';
import { openCoverage } from './coverage.ts';
import { placeKey } from './coverage-sums.ts';
import { openLostCopies } from './lost-copies.ts';
import { openShelfKeys } from './shelf-keys.ts';
import type { Sums } from './sums.ts';

export interface Projects {
  /**
   * The sums of every project with its exposure: footage with fewer verified copies than wanted. Read from the running
   * sums; what is covered is counted from the side of the copies, so no copies cost nothing.
   */
  sums(wanted: CopiesWanted): ProjectSum[];
  /** `BackupStorePort.projectCopies`. */
  copies(wanted: CopiesWanted, readSince: Instant): ProjectCopies[] | null;
}

export function openProjects(database: DatabaseSync, sums: Sums, isLost: () => boolean): Projects {
  const keys = openShelfKeys(database);
  const coverage = openCoverage(database, keys, () => performance.now());
  const lost = openLostCopies(database, keys);
  const footprints = () => foldProjects(sums.files(), sums.clips());

  /** What is lost first: it notes what it looked at, which is no change that copies are counted for. */
  function refresh(wanted: CopiesWanted, readSince: Instant | null): void {
    lost.refresh();
    coverage.refresh(wanted, readSince);
  }

  function copiesOf({ volume, area, project, made: allMade, exposable }: ProjectFootprint): ProjectCopies {
    const cover = coverage.of({ volume, area, project });
    const { footage, made, other, unsourcedBytes } = cover;
    const fewest = cover.anyBytes < exposable.bytes ? 0 : cover.fewest;
    return {
      ...{ volume, area, project, footage, made, other, unsourcedBytes },
      fewest: exposable.bytes === 0 ? null : fewest,
      madeLacking: { all: less(allMade, cover.madeCovered), unsourced: cover.unsourcedLacking },
      onlyOnShelf: null,
    };
  }

  return {
    sums(wanted) {
      const entries = footprints();
      if (isLost()) return entries.map(({ exposable: _, ...entry }) => ({ ...entry, exposed: null }));
      refresh(wanted, null);
      return entries.map(({ exposable, ...entry }: ProjectFootprint) => {
        const copies = wanted.byVolume[entry.volume] ?? wanted.copies;
        const safe = copies < 1 ? exposable : coverage.of(entry).footageTotal;
        return { ...entry, exposed: exposedOf(exposable, safe, coverage.since(entry)) };
      });
    },
    copies(wanted, readSince) {
      if (isLost()) return null;
      refresh(wanted, readSince);
      const found = new Map(footprints().map((place) => [placeKey(place), copiesOf(place)]));
      for (const { volume, project, ...onlyOnShelf } of lost.all()) {
        const place = { volume, area: project === null ? ('unassigned' as const) : ('project' as const), project };
        found.set(placeKey(place), { ...(found.get(placeKey(place)) ?? noCopies(place)), onlyOnShelf });
      }
      return [...found.values()];
    },
  };
}

/** Files that are no clip yet have bytes alone. */
function less(all: MadeSum, covered: MadeSum): MadeSum {
  return {
    clips: Math.max(0, all.clips - covered.clips),
    bytes: Math.max(0, all.bytes - covered.bytes),
    durationSeconds: Math.max(0, all.durationSeconds - covered.durationSeconds),
  };
}
