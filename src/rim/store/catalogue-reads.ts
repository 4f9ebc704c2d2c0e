import type { DatabaseSync, StatementSync } from 'node:sqlite';
import type { Clip, FileRecord, FileStat, PathText } from '../../core/model.ts';
import type { ClipQuery } from '../../core/store-ports.ts';
import { openFileCompare } from './file-compare.ts';
import { type FileRow, joinPath, rangeBelow, splitPath, toRecord } from './file-rows.ts';
import type { FilePlaces } from './protocol.ts';
import type { Sums } from './sums.ts';

export interface CatalogueReads {
  compareListing(
    volume: string,
    dir: PathText,
    files: FileStat[],
    dirs: string[],
  ): { places: FilePlaces; gone: FileRecord[] };
  compareFiles(volume: string, files: FileStat[]): FilePlaces;
  filesOfUnits(volume: string, units: string[]): FileRecord[];
  unfinished(volume: string, only: 'broken' | null): FileRecord[];
  clips(query: ClipQuery): Clip[];
  counts(volume: string | null): { files: number; clips: number };
}

export function openCatalogueReads(database: DatabaseSync, sums: Sums): CatalogueReads {
  const file = bigInts(database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ? AND name = ?'));
  const folder = bigInts(database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ?'));
  const unit = bigInts(
    database.prepare('SELECT * FROM file INDEXED BY file_by_unit WHERE volume = ? AND unit = ? ORDER BY dir, name'),
  );
  const notReady = bigInts(
    database.prepare(`
      SELECT * FROM file WHERE id IN (
        SELECT id FROM file INDEXED BY file_unfinished WHERE volume = :volume AND state <> 'ready'
        UNION ALL SELECT id FROM broken_unit CROSS JOIN file USING (volume, unit) WHERE broken_unit.volume = :volume)
      ORDER BY dir, name`),
  );
  const broken = bigInts(
    database.prepare(`
      SELECT file.* FROM broken_unit CROSS JOIN file INDEXED BY file_by_unit USING (volume, unit)
      WHERE broken_unit.volume = :volume ORDER BY dir, name`),
  );
  const compare = openFileCompare(database);
  const vanishedFolders = openVanishedFolders(database);
  const records = (statement: StatementSync, ...values: string[]) =>
    (statement.all(...values) as unknown as FileRow[]).map(toRecord);
  return {
    compareListing(volume, dir, files, dirs) {
      const known = new Map(records(folder, volume, dir).map((record) => [record.path, record]));
      const places = compare(volume, files, (seen) => known.get(seen.path));
      for (const seen of files) known.delete(seen.path);
      return { places, gone: [...known.values(), ...vanishedFolders(volume, dir, dirs)] };
    },
    compareFiles: (volume, files) =>
      compare(volume, files, ({ path }) => {
        const { dir, name } = splitPath(path);
        const row = file.get(volume, dir, name) as unknown as FileRow | undefined;
        return row === undefined ? undefined : toRecord(row);
      }),
    filesOfUnits: (volume, keys) => keys.flatMap((key) => records(unit, volume, key)),
    unfinished: (volume, only) =>
      ((only === 'broken' ? broken : notReady).all({ volume }) as unknown as FileRow[]).map(toRecord),
    clips: openClips(database),
    counts(volume) {
      const mine = (sum: { volume: string }) => volume === null || sum.volume === volume;
      const files = sums
        .files()
        .filter(mine)
        .reduce((total, sum) => total + sum.files, 0);
      return {
        files,
        clips: sums
          .clips()
          .filter(mine)
          .reduce((total, sum) => total + sum.clips, 0),
      };
    },
  };
}

/** Every folder but the root: no name begins with U+0000, and none has more than 255 bytes (63 of the last character). */
const BELOW_ROOT = { from: '\u0001', to: '\u{10FFFF}'.repeat(64) };

/** All files in sub-folders of `dir` that are known and no longer there. Visits each sub-folder once, not its content. */
function openVanishedFolders(database: DatabaseSync): (volume: string, dir: string, dirs: string[]) => FileRecord[] {
  const next = database.prepare('SELECT dir FROM file WHERE volume = ? AND dir >= ? AND dir < ? ORDER BY dir LIMIT 1');
  const inside = bigInts(database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ? ORDER BY name'));
  const below = bigInts(
    database.prepare('SELECT * FROM file WHERE volume = ? AND dir >= ? AND dir < ? ORDER BY dir, name'),
  );
  return (volume, dir, dirs) => {
    const present = new Set(dirs);
    const gone: FileRow[] = [];
    const { from, to } = dir === '' ? BELOW_ROOT : rangeBelow(dir);
    for (let cursor = from; ; ) {
      const found = next.get(volume, cursor, to)?.['dir'];
      if (typeof found !== 'string') return gone.map(toRecord);
      const name = found.slice(dir === '' ? 0 : dir.length + 1).split('/', 1)[0] ?? '';
      const child = joinPath(dir, name);
      const range = rangeBelow(child);
      const isChild = found === child;
      if (!present.has(child)) {
        const rows = isChild ? inside.all(volume, child) : below.all(volume, range.from, range.to);
        for (const row of rows) gone.push(row as unknown as FileRow);
      }
      // The folder itself and what lies below it are two places of the order: "a", "a-b", "a/x".
      cursor = isChild ? `${child}\u0001` : range.to;
    }
  };
}

function openClips(database: DatabaseSync): (query: ClipQuery) => Clip[] {
  const order = 'ORDER BY ready_at DESC, volume, unit LIMIT :newest';
  const all = database.prepare(`SELECT json FROM clip ${order}`);
  const ofVolume = database.prepare(`SELECT json FROM clip WHERE volume = :volume ${order}`);
  const ofProject = database.prepare(`SELECT json FROM clip WHERE project = :project ${order}`);
  const ofBoth = database.prepare(`SELECT json FROM clip WHERE volume = :volume AND project = :project ${order}`);
  return ({ volume, project, newest }) => {
    const limit = { newest: newest ?? -1 };
    const rows =
      volume === undefined
        ? project === undefined
          ? all.all(limit)
          : ofProject.all({ ...limit, project })
        : project === undefined
          ? ofVolume.all({ ...limit, volume })
          : ofBoth.all({ ...limit, volume, project });
    return rows.map((row) => JSON.parse(String(row['json'])) as Clip);
  };
}

function bigInts(statement: StatementSync): StatementSync {
  statement.setReadBigInts(true);
  return statement;
}
