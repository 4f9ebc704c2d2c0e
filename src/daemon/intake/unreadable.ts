import type { Arrival, PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';

/** Folders and files that the daemon may not read: told once, shown as refused arrivals until they can be read. */
export interface Unreadable {
  /** What the listing of `dir` could not read; all else in `dir` can be read (again). `dirs`: the folders that are in it. */
  note(dir: PathText, dirs: readonly PathText[], found: readonly { path: PathText; error: string }[]): void;
  /** These are no longer there. */
  gone(paths: readonly PathText[]): void;
  arrivals(): Arrival[];
}

export function createUnreadable(volume: string, clock: Clock, log: Log): Unreadable {
  const known = new Map<PathText, { dir: PathText; error: string; since: number }>();
  return {
    note(dir, dirs, found) {
      const now = new Map(found.map(({ path, error }) => [path, error]));
      const there = new Set([...dirs, ...now.keys()]);
      for (const [path, entry] of known) {
        const ofThis = entry.dir === dir && !now.has(path);
        const inMissing = path !== dir && isIn(dir, path) && !there.has(childOf(dir, path));
        if (ofThis || inMissing) known.delete(path);
      }
      for (const [path, error] of now) {
        if (known.has(path)) continue;
        known.set(path, { dir, error, since: clock.now() });
        log.warn(
          { volume, path, error },
          `Cannot read ${display(path === '' ? 'the folder itself' : path)} on ${volume}: ${error}. What is in it is not counted; give headroomd's user the right to read it.`,
        );
      }
    },
    gone(paths) {
      for (const path of known.keys()) if (paths.some((away) => path === away || isIn(away, path))) known.delete(path);
    },
    arrivals: () =>
      [...known].map(([path, { error, since }]) => ({
        volume,
        unit: path,
        path,
        stage: 'refused',
        reason: 'unreadable',
        detail: error,
        bytes: 0,
        bytesPerSecond: null,
        since,
      })),
  };
}

function isIn(dir: PathText, path: PathText): boolean {
  return dir === '' || path.startsWith(`${dir}/`);
}

/** The entry of `dir` that leads to `path`. */
function childOf(dir: PathText, path: PathText): PathText {
  const end = path.indexOf('/', dir === '' ? 0 : dir.length + 1);
  return end === -1 ? path : path.slice(0, end);
}
