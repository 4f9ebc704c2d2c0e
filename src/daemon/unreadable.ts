import type { Arrival, PathText } from '../core/model.ts';
import type { Clock, Log } from '../core/ports.ts';
import { display } from '../core/present/escape.ts';

/** Folders and files that the daemon may not read: told once, shown as refused arrivals until they can be read. */
export interface Unreadable {
  /** What the listing of `dir` could not read; all else in `dir` can be read (again). */
  note(dir: PathText, found: readonly { path: PathText; error: string }[]): void;
  arrivals(): Arrival[];
}

export function createUnreadable(volume: string, clock: Clock, log: Log): Unreadable {
  const known = new Map<PathText, { dir: PathText; error: string; since: number }>();
  return {
    note(dir, found) {
      const now = new Map(found.map(({ path, error }) => [path, error]));
      for (const [path, entry] of known) if (entry.dir === dir && !now.has(path)) known.delete(path);
      for (const [path, error] of now) {
        if (known.has(path)) continue;
        known.set(path, { dir, error, since: clock.now() });
        log.warn(
          { volume, path, error },
          `Cannot read ${display(path === '' ? 'the folder itself' : path)} on ${volume}: ${error}. What is in it is not counted; give headroomd's user the right to read it.`,
        );
      }
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
