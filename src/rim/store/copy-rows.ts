import type { DatabaseSync } from 'node:sqlite';
import {
  BACKUP_RANKS,
  type BacklogFile,
  type BacklogPage,
  type BacklogSum,
  type CopyRead,
  type CopyState,
  type KeptCopy,
  type KnownVersion,
  VERIFIED_GRADES,
} from '../../core/backup/copies.ts';
import { FOOTAGE_KINDS, type PathText } from '../../core/model.ts';
import { type FileRow, splitPath, toRecord } from './file-rows.ts';
import { inTransaction } from './transaction.ts';

/** Files in one part of a backlog. */
const PART = 1000;

export interface CopyRows {
  backlog(volume: string, shelf: string, rank: number, after: number | null): BacklogPage;
  backlogSum(volume: string, shelf: string): BacklogSum;
  put(copies: readonly KeptCopy[]): void;
  putVersions(versions: readonly KnownVersion[]): void;
  move(shelf: string, from: PathText, to: PathText): void;
  drop(shelf: string, paths: readonly PathText[]): void;
  putListed(shelf: string, paths: readonly PathText[]): void;
  putReads(shelf: string, reads: readonly CopyRead[]): void;
}

/**
 * True in SQL where `source` is the version of `file` that is there now, both of one size. A time goes onto a shelf as a fraction of a double, some 0.2
 * microseconds off; what is brought back from there with its times is the same version all the same.
 */
export const SAME_TIME = 'source.mtime_ns BETWEEN file.mtime_ns - 999 AND file.mtime_ns + 999';

/** True in SQL where the version of `file` that is on the volume now has a good copy on the shelf `:shelf`. */
const HAS_COPY = `EXISTS (SELECT 1 FROM ledger.source AS source CROSS JOIN ledger.copy AS copy ON copy.content = source.content
  WHERE source.volume = file.volume AND source.dir = file.dir AND source.name = file.name
    AND source.size = file.size AND ${SAME_TIME} AND copy.shelf = :shelf AND copy.state = 'good')`;

/** What is to be on a shelf: in no trash, no cache, no other name of a content that counts already, and not on its way. */
export const WANTED = `file.area IN ('project', 'shared', 'unassigned') AND file.counted = 1 AND file.state <> 'arriving'`;

/** Copies that count as read back from their medium, in SQL. */
export const IS_VERIFIED = `copy.state = 'good' AND copy.grade IN (${VERIFIED_GRADES.map((grade) => `'${grade}'`).join(', ')})`;

/** As a list in SQL. */
export const listed = (kinds: readonly string[]) => kinds.map((kind) => `'${kind}'`).join(', ');

export function openCopyRows(database: DatabaseSync): CopyRows {
  const parts = BACKUP_RANKS.map((kinds) => {
    const part = database.prepare(`
      SELECT file.*, (SELECT json_array(there.state, content.hash, content.size)
        FROM ledger.copy AS there CROSS JOIN ledger.content AS content ON content.id = there.content
        WHERE there.shelf = :shelf AND there.path = file.volume || '/' || iif(file.dir = '', '', file.dir || '/') || file.name) AS earlier
      FROM file WHERE file.id > :after AND file.volume = :volume AND ${WANTED} AND file.kind IN (${listed(kinds)}) AND NOT ${HAS_COPY}
      ORDER BY file.id LIMIT ${PART}`);
    part.setReadBigInts(true);
    return part;
  });
  const sum = database.prepare(`
    SELECT count(*) AS files, coalesce(sum(size), 0) AS bytes,
      count(*) FILTER (WHERE kind IN (${listed(FOOTAGE_KINDS)})) AS footageFiles,
      coalesce(sum(size) FILTER (WHERE kind IN (${listed(FOOTAGE_KINDS)})), 0) AS footageBytes
    FROM file WHERE file.volume = :volume AND ${WANTED} AND file.kind IN (${listed(BACKUP_RANKS.flat())}) AND NOT ${HAS_COPY}`);
  const move = database.prepare('UPDATE ledger.copy SET path = ? WHERE shelf = ? AND path = ?');
  const dropped = database.prepare('DELETE FROM ledger.copy WHERE shelf = ? AND path = ?');
  const listedNow = database.prepare('UPDATE ledger.copy SET listed = 1 WHERE shelf = ? AND path = ?');
  const read = database.prepare(
    'UPDATE ledger.copy SET state = ?, grade = ?, read_at = ? WHERE shelf = ? AND path = ?',
  );
  return {
    backlog(volume, shelf, rank, after) {
      const rows = (parts[rank]?.all({ volume, shelf, after: after ?? 0 }) ?? []) as unknown as (FileRow & {
        earlier: string | null;
      })[];
      const last = rows.length < PART ? undefined : rows.at(-1);
      return {
        files: rows.map((row) => ({ file: toRecord(row), earlier: earlierOf(row.earlier) })),
        next: last === undefined ? null : Number(last.id),
      };
    },
    backlogSum: (volume, shelf) => ({ ...sum.get({ volume, shelf }) }) as unknown as BacklogSum,
    ...openPut(database),
    move: (shelf, from, to) => void move.run(to, shelf, from),
    drop(shelf, paths) {
      inTransaction(database, () => {
        for (const path of paths) dropped.run(shelf, path);
      });
    },
    putListed(shelf, paths) {
      inTransaction(database, () => {
        for (const path of paths) listedNow.run(shelf, path);
      });
    },
    putReads(shelf, reads) {
      inTransaction(database, () => {
        for (const { path, state, grade, readAt } of reads) read.run(state, grade, Math.round(readAt), shelf, path);
      });
    },
  };
}

function earlierOf(json: string | null): BacklogFile['earlier'] {
  if (json === null) return null;
  const [state, hash, size] = JSON.parse(json) as [CopyState, string, number];
  return { state, hash, size };
}

/** Puts copies with the content they have, and which version of which file that content is. */
function openPut(database: DatabaseSync): Pick<CopyRows, 'put' | 'putVersions'> {
  const find = database.prepare('SELECT id FROM ledger.content WHERE algorithm = ? AND hash = ? AND size = ?');
  const add = database.prepare('INSERT INTO ledger.content (algorithm, hash, size) VALUES (?, ?, ?)');
  const source = database.prepare('INSERT OR REPLACE INTO ledger.source VALUES (?, ?, ?, ?, ?, ?, ?)');
  const copy = database.prepare(`
    INSERT OR REPLACE INTO ledger.copy (shelf, path, content, volume, project, kind, dir, name, mtime_ns, grade, state, copied_at, read_at, listed)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'good', ?, ?, ?)`);
  const contentOf = ({ algorithm, hash, size }: KnownVersion): number | bigint => {
    const known = find.get(algorithm, hash, size)?.['id'];
    return typeof known === 'number' ? known : add.run(algorithm, hash, size).lastInsertRowid;
  };
  const version = (one: KnownVersion): number | bigint => {
    const content = contentOf(one);
    const { dir, name } = splitPath(one.source);
    source.run(one.volume, dir, name, one.size, one.mtimeNs, content, Math.round(one.readAt));
    return content;
  };
  return {
    put: (copies) =>
      inTransaction(database, () => {
        for (const one of copies) {
          const content = version(one);
          const { dir, name } = splitPath(one.source);
          // Only what was recorded stands in lists: of all else the next version would read as damage.
          const isListed = !FOOTAGE_KINDS.includes(one.kind) || !one.path.startsWith(`${one.volume}/`);
          copy.run(
            ...([one.shelf, one.path, content, one.volume, one.project, one.kind, dir, name, one.mtimeNs] as const),
            ...([one.grade, Math.round(one.copiedAt), Math.round(one.readAt), isListed ? 1 : 0] as const),
          );
        }
      }),
    putVersions: (versions) =>
      inTransaction(database, () => {
        for (const one of versions) version(one);
      }),
  };
}
