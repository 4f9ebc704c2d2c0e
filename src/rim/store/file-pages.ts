import type { DatabaseSync, StatementSync } from 'node:sqlite';
import type { FileStat, PathText } from '../../core/model.ts';
import type { FilesPage } from '../../core/store-ports.ts';
import { type FileRow, joinPath, rangeBelow, splitPath, toRecord } from './file-rows.ts';

/* What may be as much as a whole volume: in parts, or told by its folders. */

/** So many records make up a part. */
const PART = 5000;

/** Every folder but the root: no name begins with U+0000, and none has more than 255 bytes (63 of the last character). */
const BELOW_ROOT = { from: '\u0001', to: '\u{10FFFF}'.repeat(64) };

/** First what is not ready, in the order in which it became known, then what is ready of the units that lost a file. */
export function openUnfinished(
  database: DatabaseSync,
): (volume: string, only: 'broken' | null, after: string | null) => FilesPage {
  const notReady = bigInts(
    database.prepare(`
      SELECT * FROM file INDEXED BY file_unfinished WHERE volume = :volume AND state <> 'ready' AND id > :id
      ORDER BY id LIMIT ${PART}`),
  );
  const ofBroken = (which: string) =>
    bigInts(
      database.prepare(`
        SELECT file.* FROM broken_unit CROSS JOIN file INDEXED BY file_by_unit USING (volume, unit)
        WHERE broken_unit.volume = :volume AND broken_unit.unit >= :unit
          AND (broken_unit.unit > :unit OR file.id > :id) ${which}
        ORDER BY broken_unit.unit, file.id LIMIT ${PART}`),
    );
  const broken = ofBroken('');
  const brokenReady = ofBroken("AND file.state = 'ready'");
  return (volume, only, after) => {
    const from: { id: string; unit: string | null } =
      after === null ? { id: '0', unit: only === 'broken' ? '' : null } : JSON.parse(after);
    const id = BigInt(from.id);
    if (from.unit === null) {
      const rows = notReady.all({ volume, id }) as unknown as FileRow[];
      const last = rows.at(-1);
      const isFull = last !== undefined && rows.length === PART;
      const next = isFull ? { id: String(last.id), unit: null } : { id: '0', unit: '' };
      return { files: rows.map(toRecord), next: JSON.stringify(next) };
    }
    const { unit } = from;
    const rows = (only === 'broken' ? broken : brokenReady).all({ volume, id, unit }) as unknown as FileRow[];
    const last = rows.length === PART ? rows.at(-1) : undefined;
    const next = last === undefined ? null : JSON.stringify({ id: String(last.id), unit: last.unit });
    return { files: rows.map(toRecord), next };
  };
}

/** Where a part ended: at which path, counted, and after which file: the path itself, one in that folder, or one below. */
interface Reached {
  place: number;
  stage: 'itself' | 'inside' | 'below';
  dir: string;
  name: string;
}

/** Reads no more than the files at and below the paths. */
export function openFilesBelow(
  database: DatabaseSync,
): (volume: string, paths: PathText[], only: 'unfinished' | null, after: string | null) => FilesPage {
  const unfinished =
    "AND (state <> 'ready' OR EXISTS (SELECT 1 FROM broken_unit WHERE volume = file.volume AND unit = file.unit))";
  const statements = (which: string) => {
    const select = (where: string) =>
      bigInts(
        database.prepare(
          `SELECT * FROM file INDEXED BY file_by_path WHERE volume = :volume AND ${where} ${which}
          ORDER BY dir, name LIMIT :most`,
        ),
      );
    return {
      itself: select('dir = :dir AND name = :name'),
      inside: select('dir = :dir AND name > :name'),
      below: select('dir >= :dir AND dir < :to AND (dir > :dir OR name > :name)'),
    };
  };
  const all = statements('');
  const some = statements(unfinished);
  return (volume, paths, only, after) => {
    const { itself, inside, below } = only === null ? all : some;
    const rows: FileRow[] = [];
    const take = (statement: StatementSync, values: Record<string, string>): boolean => {
      const most = PART - rows.length;
      for (const row of statement.all({ volume, ...values, most })) rows.push(row as unknown as FileRow);
      return rows.length === PART;
    };
    const reached = (place: number, stage: Reached['stage']): FilesPage => {
      const { dir = '', name = '' } = rows.at(-1) ?? {};
      return { files: rows.map(toRecord), next: JSON.stringify({ place, stage, dir, name } satisfies Reached) };
    };
    let from: Reached = after === null ? { place: 0, stage: 'itself', dir: '', name: '' } : JSON.parse(after);
    for (; from.place < paths.length; from = { place: from.place + 1, stage: 'itself', dir: '', name: '' }) {
      const { place, stage } = from;
      const path = paths[place] ?? '';
      const { from: first, to } = path === '' ? BELOW_ROOT : rangeBelow(path);
      const isToldItself = stage !== 'itself' || from.name !== '' || path === '';
      if (!isToldItself && take(itself, splitPath(path))) return reached(place, 'itself');
      if (stage !== 'below' && take(inside, { dir: path, name: stage === 'inside' ? from.name : '' }))
        return reached(place, 'inside');
      const lower = stage === 'below' ? { dir: from.dir, name: from.name } : { dir: first, name: '' };
      if (take(below, { ...lower, to })) return reached(place, 'below');
    }
    return { files: rows.map(toRecord), next: null };
  };
}

/**
 * Sub-folders of `dir` that files are known in and that are no longer there; of one whose name a file has now, the files.
 * Visits each sub-folder once, not its content.
 */
export function openVanishedFolders(
  database: DatabaseSync,
): (volume: string, dir: string, dirs: readonly string[], files: readonly FileStat[]) => PathText[] {
  const next = database.prepare('SELECT dir FROM file WHERE volume = ? AND dir >= ? AND dir < ? ORDER BY dir LIMIT 1');
  const inside = database.prepare('SELECT dir, name FROM file WHERE volume = ? AND dir = ? ORDER BY name');
  const below = database.prepare(
    'SELECT dir, name FROM file WHERE volume = ? AND dir >= ? AND dir < ? ORDER BY dir, name',
  );
  return (volume, dir, dirs, files) => {
    const present = new Set(dirs);
    const replaced = new Set(files.map(({ path }) => path));
    const gone = new Set<PathText>();
    const { from, to } = dir === '' ? BELOW_ROOT : rangeBelow(dir);
    for (let cursor = from; ; ) {
      const found = next.get(volume, cursor, to)?.['dir'];
      if (typeof found !== 'string') return [...gone];
      const name = found.slice(dir === '' ? 0 : dir.length + 1).split('/', 1)[0] ?? '';
      const child = joinPath(dir, name);
      const range = rangeBelow(child);
      const isChild = found === child;
      if (replaced.has(child)) {
        const rows = isChild ? inside.all(volume, child) : below.all(volume, range.from, range.to);
        for (const row of rows) gone.add(joinPath(String(row['dir']), String(row['name'])));
      } else if (!present.has(child)) gone.add(child);
      // The folder itself and what lies below it are two places of the order: "a", "a-b", "a/x".
      cursor = isChild ? `${child}\u0001` : range.to;
    }
  };
}

function bigInts(statement: StatementSync): StatementSync {
  statement.setReadBigInts(true);
  return statement;
}
