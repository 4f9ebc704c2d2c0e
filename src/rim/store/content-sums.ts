import type { DatabaseSync } from 'node:sqlite';
import type { Sums } from '../../core/backup/sums.ts';
import type { ArrivedVersion, ReadVersion } from '../../core/cards/known-list.ts';
import type { Place } from '../../core/cards/reconciliation.ts';
import type { PathText } from '../../core/model.ts';
import type { CopyRows } from './copy-rows.ts';
import { joinPath, rangeBelow, splitPath } from './file-rows.ts';
import { inTransaction } from './transaction.ts';

export interface ContentSums {
  at(places: readonly Place[]): ArrivedVersion[];
  below(volume: string, folder: PathText, most: number): ArrivedVersion[] | null;
  put(versions: readonly ReadVersion[]): void;
}

const NS_IN_MS = 1_000_000n;

interface Row {
  volume: string;
  dir: string;
  name: string;
  size: bigint;
  mtime_ns: bigint;
  ctime_ns: bigint;
  read_at: bigint | null;
  state: string;
  algorithm: string | null;
  hash: string | null;
  sums: string | null;
}

/** Of the version that is on the volume now. */
const VERSION = `file.volume, file.dir, file.name, file.size, file.mtime_ns, file.ctime_ns, file.state, source.read_at, content.algorithm, content.hash,
  (SELECT json_group_object(known.format, known.value) FROM ledger.content_sum AS known WHERE known.content = content.id) AS sums
  FROM file LEFT JOIN ledger.source AS source ON source.volume = file.volume AND source.dir = file.dir
      AND source.name = file.name AND source.size = file.size AND source.mtime_ns = file.mtime_ns
    LEFT JOIN ledger.content AS content ON content.id = source.content`;

/** What is known of the contents of files by their hashes, kept with the content: two files of one content know the same. */
export function openContentSums(database: DatabaseSync, copies: Pick<CopyRows, 'putVersions'>): ContentSums {
  const prepare = (where: string) => {
    const statement = database.prepare(`SELECT ${VERSION} WHERE file.volume = ? AND ${where}`);
    statement.setReadBigInts(true);
    return statement;
  };
  const at = prepare('file.dir = ? AND file.name = ?');
  const inside = prepare('file.dir = ? ORDER BY file.name LIMIT ?');
  const below = prepare('file.dir >= ? AND file.dir < ? ORDER BY file.dir, file.name LIMIT ?');
  const put = database.prepare(`
    INSERT OR REPLACE INTO ledger.content_sum
    SELECT content.id, ?, ? FROM ledger.content AS content WHERE content.algorithm = 'xxh64' AND content.hash = ? AND content.size = ?`);
  const toVersions = (rows: unknown[]) => (rows as Row[]).map(toVersion);
  return {
    at: (places) =>
      places.flatMap(({ volume, path }) => {
        const { dir, name } = splitPath(path);
        return toVersions(at.all(volume, dir, name));
      }),
    below(volume, folder, most) {
      const { from, to } = rangeBelow(folder);
      const rows = [...inside.all(volume, folder, most + 1), ...below.all(volume, from, to, most + 1)];
      return rows.length > most ? null : toVersions(rows);
    },
    put: (versions) =>
      inTransaction(database, () => {
        copies.putVersions(
          versions.map(({ path, sums, ...version }) => ({
            ...version,
            source: path,
            algorithm: 'xxh64',
            hash: sums.xxh64,
          })),
        );
        for (const { sums, size } of versions) {
          for (const [format, value] of Object.entries(sums))
            if (format !== 'xxh64') put.run(format, value, sums.xxh64, size);
        }
      }),
  };
}

function toVersion(row: Row): ArrivedVersion {
  const { volume, dir, name, size, mtime_ns, ctime_ns, state, read_at, algorithm, hash, sums } = row;
  const known = JSON.parse(sums ?? '{}') as Sums;
  return {
    ...{ volume, path: joinPath(dir, name), size: Number(size), mtimeNs: mtime_ns, isArriving: state === 'arriving' },
    sums: algorithm === null ? {} : { ...known, [algorithm]: hash },
    changedSince: read_at !== null && ctime_ns > read_at * NS_IN_MS,
  };
}
