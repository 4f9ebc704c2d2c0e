import type { DatabaseSync } from 'node:sqlite';
import { type CopyTally, sumTallies, tallyOf, type VerifiedCopy } from '../../core/cards/copy-tally.ts';
import type { Place } from '../../core/cards/reconciliation.ts';
import type { PathText } from '../../core/model.ts';
import { IS_VERIFIED } from './copy-rows.ts';
import { rangeBelow, splitPath } from './file-rows.ts';

export interface CopyTallies {
  /** Of the files at these places; one where nothing is known has no copies. */
  at(places: readonly Place[]): CopyTally;
  /** Of the files in a folder that are not arriving; with all that lies below it when `deep`. */
  below(volume: string, folder: PathText, deep: boolean): CopyTally;
}

interface FileNow {
  volume: string;
  dir: string;
  name: string;
  size: bigint;
  mtime_ns: bigint;
  dev: bigint;
  ino: bigint;
  nlink: bigint;
  exposable_bytes: bigint;
}

const COLUMNS =
  'volume, dir, name, size, mtime_ns, dev, ino, nlink, iif(exposable AND counted, size, 0) AS exposable_bytes';

/** Looks up the verified copies of single files: of the version that is on the volume now, under any of its names. */
export function openCopyTallies(database: DatabaseSync): CopyTallies {
  const prepare = (sql: string) => {
    const statement = database.prepare(sql);
    statement.setReadBigInts(true);
    return statement;
  };
  const at = prepare(`SELECT ${COLUMNS} FROM file WHERE volume = ? AND dir = ? AND name = ?`);
  const inside = prepare(`SELECT ${COLUMNS} FROM file WHERE volume = ? AND dir = ? AND state <> 'arriving'`);
  const below = prepare(
    `SELECT ${COLUMNS} FROM file WHERE volume = ? AND dir >= ? AND dir < ? AND state <> 'arriving'`,
  );
  const names = prepare('SELECT dir, name FROM file WHERE volume = ? AND ino = ? AND dev = ? AND nlink > 1');
  const copies = database.prepare(`
    SELECT copy.shelf, coalesce(shelf.name, copy.shelf) AS name, coalesce('d' || shelf.drive, 's' || copy.shelf) AS drive,
      copy.read_at AS readAt
    FROM ledger.source AS source CROSS JOIN ledger.copy AS copy ON copy.content = source.content
      LEFT JOIN ledger.shelf AS shelf ON shelf.id = copy.shelf
    WHERE source.volume = ? AND source.dir = ? AND source.name = ? AND source.size = ? AND source.mtime_ns = ?
      AND ${IS_VERIFIED}`);

  function copiesOf({ volume, size, mtime_ns, ...file }: FileNow): VerifiedCopy[] {
    const under = ({ dir, name }: { dir: string; name: string }) =>
      copies.all(volume, dir, name, size, mtime_ns).map((row) => ({ ...row }) as unknown as VerifiedCopy);
    const own = under(file);
    if (own.length > 0 || file.nlink < 2n) return own;
    const others = names.all(volume, file.ino, file.dev) as unknown as { dir: string; name: string }[];
    return others.flatMap(under);
  }

  const tally = (file: FileNow) => tallyOf(copiesOf(file), file.volume, Number(file.exposable_bytes));

  return {
    at: (places) =>
      sumTallies(
        places.map(({ volume, path }) => {
          const { dir, name } = splitPath(path);
          const file = at.get(volume, dir, name) as unknown as FileNow | undefined;
          return file === undefined ? tallyOf([], volume, 0) : tally(file);
        }),
      ),
    below(volume, folder, deep) {
      const { from, to } = rangeBelow(folder);
      const rows = [...inside.all(volume, folder), ...(deep ? below.all(volume, from, to) : [])];
      return sumTallies((rows as unknown as FileNow[]).map(tally));
    },
  };
}
