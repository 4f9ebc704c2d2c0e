import type { BackupStorePort, ListableFile } from '../../core/backup/copies.ts';
import type { ShelfGuard } from '../../core/backup/copy-port.ts';
import type { HashFormat } from '../../core/backup/mhl-model.ts';
import type { ListedCopy, ShelfPort } from '../../core/backup/shelf-port.ts';
import type { PathText } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';

export interface ListDeps {
  store: Pick<BackupStorePort, 'unlisted' | 'putListed'>;
  shelves: Pick<ShelfPort, 'list'>;
  clock: Pick<Clock, 'now'>;
  version: string;
}

/** Copies that come into lists together. */
const TOGETHER = 20_000;

/**
 * Writes the verified copies of footage that stand in no list yet into the media hash lists of their project folders: also those that an
 * earlier run copied before it was ended. A list that cannot be written is told, and tried by the next run.
 */
export async function listNew(
  { store, shelves, clock, version }: ListDeps,
  shelf: {
    id: string;
    guard: ShelfGuard;
    volume: string;
    /** That the lists hold besides XXH64. */
    hashes: readonly HashFormat[];
    trouble: (why: { path: PathText; message: string }) => void;
  },
): Promise<void> {
  const { id, guard, volume, hashes, trouble } = shelf;
  for (;;) {
    const files = await store.unlisted(id, volume, TOGETHER);
    for (const [top, mine] of Map.groupBy(files, topOf)) {
      const list = {
        top,
        startedAt: clock.now(),
        toolVersion: version,
        files: mine.map((file) => entryOf(top, file, hashes)),
      };
      // What lies in no folder of its own has no list.
      const why = top === volume ? null : await shelves.list(guard, list);
      if (why !== null) return trouble({ path: top, message: why });
      await store.putListed(
        id,
        mine.map(({ path }) => path),
      );
    }
    if (files.length < TOGETHER) return;
  }
}

/** The folder of the volume on the shelf and the first below it: a project's, as a rule. */
function topOf({ path }: ListableFile): PathText {
  return path.split('/').slice(0, -1).slice(0, 2).join('/');
}

/** One that was copied before a hash was wanted has no value of it; its list can be checked all the same. */
function entryOf(
  top: PathText,
  { path, size, mtimeNs, algorithm, hash, sums, readAt }: ListableFile,
  hashes: readonly HashFormat[],
): ListedCopy {
  const others = hashes.flatMap((format) => (sums[format] === undefined ? [] : [[format, sums[format]]]));
  const values = { ...Object.fromEntries(others), [algorithm]: hash };
  return { path: path.slice(top.length + 1), size, mtimeNs, values, hashedAt: readAt };
}
