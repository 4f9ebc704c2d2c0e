import type { DatabaseSync } from 'node:sqlite';
import type { CopyScope, OtherCopy, ReadMark, ScopeTally, ShelfFile } from '../../core/backup/copies.ts';
import type { FileHash } from '../../core/backup/copy-port.ts';
import type { Instant } from '../../core/model.ts';
import { IS_VERIFIED } from './copy-rows.ts';
import { SHELF_FILE, toShelfFile } from './shelf-rows.ts';

/** Which copies are to be read again, and where else a content lies. */
export interface ReadingRows {
  stalest(scope: CopyScope, before: Instant, after: ReadMark | null, most: number): ShelfFile[];
  tally(scope: CopyScope, before: Instant): ScopeTally;
  late(shelf: string, volume: string, before: Instant): { files: number; bytes: number };
  goodCopies(content: FileHash & { size: number }): OtherCopy[];
}

const IN_SCOPE = `copy.shelf = :shelf AND copy.volume = :volume AND (:project IS NULL OR copy.project = :project)`;

export function openReadingRows(database: DatabaseSync): ReadingRows {
  const stalest = database.prepare(`
    SELECT ${SHELF_FILE} WHERE ${IN_SCOPE} AND copy.read_at < :before AND (copy.read_at, copy.path) > (:readAt, :path)
    ORDER BY copy.read_at, copy.path LIMIT :most`);
  stalest.setReadBigInts(true);
  const tally = database.prepare(`
    SELECT count(*) AS files, coalesce(sum(content.size), 0) AS bytes,
      count(*) FILTER (WHERE copy.read_at < :before) AS leftFiles,
      coalesce(sum(content.size) FILTER (WHERE copy.read_at < :before), 0) AS leftBytes,
      count(*) FILTER (WHERE copy.state = 'differs' AND copy.read_at >= :before) AS readDiffering,
      count(*) FILTER (WHERE copy.state = 'unread' AND copy.read_at >= :before) AS readUnread
    FROM ledger.copy AS copy CROSS JOIN ledger.content AS content ON content.id = copy.content WHERE ${IN_SCOPE}`);
  const late = database.prepare(`
    SELECT count(*) AS files, coalesce(sum(content.size), 0) AS bytes
    FROM ledger.copy AS copy INDEXED BY copy_by_age CROSS JOIN ledger.content AS content ON content.id = copy.content
    WHERE copy.shelf = ? AND copy.volume = ? AND copy.read_at < ?`);
  const good = database.prepare(`
    SELECT copy.shelf, copy.path, copy.grade, copy.read_at AS readAt
    FROM ledger.content AS content CROSS JOIN ledger.copy AS copy ON copy.content = content.id
    WHERE content.algorithm = :algorithm AND content.hash = :hash AND content.size = :size AND copy.state = 'good'
    ORDER BY ${IS_VERIFIED} DESC, copy.read_at DESC`);
  return {
    stalest: ({ shelf, volume, project }, before, after, most) =>
      stalest
        .all({
          ...{ shelf, volume, project, before: Math.round(before), most },
          ...{ readAt: after?.readAt ?? -1, path: after?.path ?? '' },
        })
        .map(toShelfFile),
    tally: ({ shelf, volume, project }, before) =>
      ({ ...tally.get({ shelf, volume, project, before: Math.round(before) }) }) as unknown as ScopeTally,
    late: (shelf, volume, before) =>
      ({ ...late.get(shelf, volume, Math.round(before)) }) as unknown as { files: number; bytes: number },
    goodCopies: ({ algorithm, hash, size }) =>
      good.all({ algorithm, hash, size }).map((row) => ({ ...row }) as unknown as OtherCopy),
  };
}
