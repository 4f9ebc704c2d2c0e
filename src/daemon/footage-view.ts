import { type FoundGroup, findMulticam } from '../core/assess/multicam.ts';
import { spansOf } from '../core/assess/spans.ts';
import type { Clip } from '../core/model.ts';
import type { CataloguePort } from '../core/ports.ts';
import type { KnownFootage } from './volume-source.ts';

/** So many of the newest clips stand for what is being shot now. */
const SOME = 50;

export interface FootageView {
  /** The clips of this project changed: its multicam groups are looked for again in the next read. */
  touch(volume: string, project: string | null): void;
  read(): Promise<KnownFootage>;
}

/** Sums are kept running by the catalogue; multicam groups are searched again only in projects that changed. */
export function createFootageView(
  catalogue: CataloguePort,
  wantedCopies: number,
  volumes: ReadonlySet<string>,
): FootageView {
  const groups = new Map<string, FoundGroup[]>();
  const newest = new Map<string, Clip[]>();
  const dirtyVolumes = new Set<string>();
  let touches = 0;

  async function groupsOf(volume: string, project: string): Promise<FoundGroup[]> {
    const key = keyOf(volume, project);
    const known = groups.get(key);
    if (known !== undefined) return known;
    const before = touches;
    const found = findMulticam(spansOf(await catalogue.clips({ volume, project })));
    // What was read while something changed may be half old: not kept, the next read looks again.
    if (touches === before) groups.set(key, found);
    return found;
  }

  async function readNewest(volumes: Iterable<string>): Promise<void> {
    for (const volume of volumes) {
      if (newest.has(volume) && !dirtyVolumes.has(volume)) continue;
      dirtyVolumes.delete(volume);
      newest.set(volume, await catalogue.clips({ volume, newest: SOME }));
    }
  }

  return {
    touch(volume, project) {
      touches += 1;
      dirtyVolumes.add(volume);
      if (project !== null) groups.delete(keyOf(volume, project));
    },
    async read() {
      // What is known of volumes that are no longer configured is kept, and not shown.
      const sums = (await catalogue.projects(wantedCopies)).filter(({ volume }) => volumes.has(volume));
      const projects = [];
      for (const sum of sums) {
        projects.push({ sum, multicam: sum.project === null ? [] : await groupsOf(sum.volume, sum.project) });
      }
      await readNewest(new Set(sums.map(({ volume }) => volume)));
      return { projects, newest };
    },
  };
}

function keyOf(volume: string, project: string): string {
  return `${volume}\n${project}`;
}
