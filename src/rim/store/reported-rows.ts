import type { DatabaseSync } from 'node:sqlite';
import {
  BACKUP_RANKS,
  type ReportedCopy,
  type ReportedSum,
  type UnreadReport,
  type UnreportedPage,
} from '../../core/backup/copies.ts';
import { joinPath } from '../../core/intake/path-text.ts';
import { listed, WANTED } from './copy-rows.ts';
import { type FileRow, splitPath, toRecord } from './file-rows.ts';
import { inTransaction } from './transaction.ts';

/** Files in one part. */
const PART = 1000;

/** What programs of the user's say that they have copied. */
export interface ReportedRows {
  unreported(volume: string, name: string, rank: number, after: number | null): UnreportedPage;
  put(copies: readonly ReportedCopy[]): void;
  unread(volume: string, name: string, most: number): UnreadReport[];
  settle(reports: readonly (ReportedCopy & { keep: boolean })[]): void;
  sums(): ReportedSum[];
}

/** True in SQL where this version, or the same content under another name, was reported. */
const IS_REPORTED = `(EXISTS (SELECT 1 FROM ledger.reported AS told WHERE told.name = :name AND told.volume = file.volume
    AND told.dir = file.dir AND told.file = file.name AND told.size = file.size AND told.mtime_ns = file.mtime_ns)
  OR EXISTS (SELECT 1 FROM ledger.source AS source CROSS JOIN ledger.reported AS told ON told.name = :name AND told.content = source.content
    WHERE source.volume = file.volume AND source.dir = file.dir AND source.name = file.name
      AND source.size = file.size AND source.mtime_ns = file.mtime_ns))`;

const VERSION = 'name = ? AND volume = ? AND dir = ? AND file = ? AND size = ? AND mtime_ns = ?';
const SAME_FILE =
  'file.volume = told.volume AND file.dir = told.dir AND file.name = told.file AND file.size = told.size AND file.mtime_ns = told.mtime_ns';

export function openReportedRows(database: DatabaseSync): ReportedRows {
  const parts = BACKUP_RANKS.map((kinds) => {
    const part = database.prepare(`
      SELECT file.* FROM file WHERE file.id > :after AND file.volume = :volume AND ${WANTED} AND file.kind IN (${listed(kinds)})
        AND NOT ${IS_REPORTED} ORDER BY file.id LIMIT ${PART}`);
    part.setReadBigInts(true);
    return part;
  });
  const put = database.prepare(`
    INSERT OR REPLACE INTO ledger.reported VALUES (:name, :volume, :dir, :file, :size, :mtimeNs,
      (SELECT content FROM ledger.source AS source WHERE source.volume = :volume AND source.dir = :dir AND source.name = :file
        AND source.size = :size AND source.mtime_ns = :mtimeNs), :place, :readPath, :at)`);
  const unread = database.prepare(`
    SELECT told.name, told.volume, told.dir, told.file, told.size, told.mtime_ns AS mtimeNs, told.place, told.read_path AS readPath,
      told.reported_at AS reportedAt, content.hash, file.project, file.kind
    FROM ledger.reported AS told
      LEFT JOIN ledger.source AS source ON source.volume = told.volume AND source.dir = told.dir AND source.name = told.file
        AND source.size = told.size AND source.mtime_ns = told.mtime_ns
      LEFT JOIN ledger.content AS content ON content.id = source.content
      LEFT JOIN file ON ${SAME_FILE}
    WHERE told.name = ? AND told.volume = ? AND told.read_path IS NOT NULL ORDER BY told.dir, told.file LIMIT ?`);
  unread.setReadBigInts(true);
  const kept = database.prepare(`UPDATE ledger.reported SET read_path = NULL WHERE ${VERSION}`);
  const dropped = database.prepare(`DELETE FROM ledger.reported WHERE ${VERSION}`);
  const sums = database.prepare(`
    SELECT told.name, told.volume, count(*) AS files, sum(told.size) AS bytes, count(file.id) AS presentFiles,
      coalesce(sum(file.size), 0) AS presentBytes
    FROM ledger.reported AS told LEFT JOIN file ON ${SAME_FILE} GROUP BY told.name, told.volume ORDER BY 1, 2`);
  return {
    unreported(volume, name, rank, after) {
      const rows = (parts[rank]?.all({ volume, name, after: after ?? 0 }) ?? []) as unknown as FileRow[];
      const last = rows.length < PART ? undefined : rows.at(-1);
      return { files: rows.map(toRecord), next: last === undefined ? null : Number(last.id) };
    },
    put: (copies) =>
      inTransaction(database, () => {
        for (const { name, volume, source, size, mtimeNs, place, readPath, reportedAt } of copies) {
          const { dir, name: file } = splitPath(source);
          put.run({ name, volume, dir, file, size, mtimeNs, place, readPath, at: Math.round(reportedAt) });
        }
      }),
    unread: (volume, name, most) => unread.all(name, volume, most).map(toUnread),
    settle: (reports) =>
      inTransaction(database, () => {
        for (const { name, volume, source, size, mtimeNs, keep } of reports) {
          const { dir, name: file } = splitPath(source);
          (keep ? kept : dropped).run(name, volume, dir, file, size, mtimeNs);
        }
      }),
    sums: () => sums.all().map((row) => ({ ...row }) as unknown as ReportedSum),
  };
}

/** Read with big integers, for the time of modification. */
function toUnread(row: Record<string, unknown>): UnreadReport {
  const { dir, file, size, reportedAt, project, kind, ...rest } = row;
  return {
    ...rest,
    source: joinPath(String(dir), String(file)),
    ...{ size: Number(size), reportedAt: Number(reportedAt) },
    file: kind === null ? null : { project, kind },
  } as UnreadReport;
}
