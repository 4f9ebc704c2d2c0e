import type { DatabaseSync } from 'node:sqlite';
import { compareSeen } from '../../core/intake/compare.ts';
import { isReplaced } from '../../core/intake/moved.ts';
import type { FileRecord, FileStat, PathText } from '../../core/model.ts';
import { joinPath, splitPath } from './file-rows.ts';
import type { FilePlaces } from './protocol.ts';

/** Sorts files that were seen by what is known of them. `known`: the record under the same path. */
export type CompareSeen = (
  volume: string,
  files: readonly FileStat[],
  known: (file: FileStat) => FileRecord | undefined,
) => FilePlaces;

/** What counts as moved is said in core/intake/moved.ts; here it is asked for by the index of inodes. */
export function openFileCompare(database: DatabaseSync): CompareSeen {
  const elsewhere = database.prepare(`
    SELECT dir, name FROM file INDEXED BY file_by_inode
    WHERE volume = ? AND ino = ? AND size = ? AND mtime_ns = ? AND state = 'ready' AND nlink <= 1
      AND NOT (dir = ? AND name = ?)
    ORDER BY dir, name LIMIT 1`);

  const movedFrom = (volume: string, file: FileStat): PathText | null => {
    if (file.nlink > 1 || file.ino === 0n) return null;
    const { dir, name } = splitPath(file.path);
    const [ino, mtime] = [BigInt.asIntN(64, file.ino), BigInt.asIntN(64, file.mtimeNs)];
    const row = elsewhere.get(volume, ino, file.size, mtime, dir, name);
    return row === undefined ? null : joinPath(String(row['dir']), String(row['name']));
  };

  return (volume, files, knownOf) => {
    const places: FilePlaces = { fresh: [], moved: [], replacing: [] };
    for (const [place, file] of files.entries()) {
      const known = knownOf(file);
      if (!isFresh(known, file)) continue;
      const from = known?.state === 'arriving' ? null : movedFrom(volume, file);
      if (from !== null) places.moved.push({ place, from });
      else if (known !== undefined && isReplaced(known, file)) places.replacing.push(place);
      else places.fresh.push(place);
    }
    return places;
  };
}

/** A refused file stays decided until it changes; a file that is still arriving is taken up again. */
function isFresh(known: FileRecord | undefined, seen: FileStat): boolean {
  return known === undefined || known.state === 'arriving' || compareSeen(known, seen).verdict !== 'same';
}
