import type { DatabaseSync } from 'node:sqlite';
import type { KnownShelf, ListableFile, ShelfFile, ShelfSum } from '../../core/backup/copies.ts';
import type { Sums } from '../../core/backup/sums.ts';
import type { Instant, PathText } from '../../core/model.ts';
import { IS_VERIFIED, SAME_TIME } from './copy-rows.ts';

export interface ShelfRows {
  shelves(): KnownShelf[];
  putShelf(shelf: KnownShelf): void;
  unlisted(shelf: string, volume: string, most: number): ListableFile[];
  altered(shelf: string, volume: string): PathText[];
  bad(shelf: string, volume: string, most: number): ShelfFile[];
  stalest(shelf: string, before: Instant, most: number): ShelfFile[];
  sums(): ShelfSum[];
  lost(volume: string, project: string | null, shelf: string): ShelfFile[];
  note(key: string): string | null;
  putNote(key: string, text: string): void;
}

/** Where the file was on its volume. */
const SOURCE = "iif(copy.dir = '', '', copy.dir || '/') || copy.name";

const FILE = `copy.path, copy.volume, ${SOURCE} AS source, content.size, copy.mtime_ns AS mtimeNs, copy.state, copy.grade,
  content.algorithm, content.hash, copy.copied_at AS copiedAt, copy.read_at AS readAt
  FROM ledger.copy AS copy CROSS JOIN ledger.content AS content ON content.id = copy.content`;

const SUMS = `(SELECT json_group_object(known.format, known.value) FROM ledger.content_sum AS known
  WHERE known.content = copy.content) AS sums`;

/**
 * True in SQL where a copy in its first place is all that is left: nothing lies where its file was, and its content is on the volume under no other
 * name. What is in the trash is given up.
 */
export const IS_LOST = `copy.state = 'good' AND copy.path = copy.volume || '/' || ${SOURCE}
  AND NOT EXISTS (SELECT 1 FROM file WHERE file.volume = copy.volume AND file.dir = copy.dir AND file.name = copy.name
    AND file.area <> 'trash')
  AND NOT EXISTS (SELECT 1 FROM ledger.source AS source CROSS JOIN file USING (volume, dir, name)
    WHERE source.content = copy.content AND source.size = file.size AND ${SAME_TIME}
      AND file.area <> 'trash')`;

export function openShelfRows(database: DatabaseSync): ShelfRows {
  const shelves = database.prepare(
    'SELECT id, name, drive, seen_at AS seenAt, total_bytes AS totalBytes, free_bytes AS freeBytes FROM ledger.shelf ORDER BY name, id',
  );
  const putShelf = database.prepare('INSERT OR REPLACE INTO ledger.shelf VALUES (?, ?, ?, ?, ?, ?)');
  const stalest = database.prepare(
    `SELECT ${FILE} WHERE copy.shelf = ? AND copy.read_at < ? ORDER BY copy.read_at LIMIT ?`,
  );
  const unlisted = database.prepare(`
    SELECT ${SUMS}, ${FILE} WHERE copy.shelf = ? AND copy.volume = ? AND copy.listed = 0 AND ${IS_VERIFIED} ORDER BY copy.path LIMIT ?`);
  const altered = database.prepare(`
    SELECT DISTINCT ${SOURCE.replaceAll('copy.', 'beside.')} AS source FROM ledger.copy AS beside
      CROSS JOIN ledger.copy AS first ON first.shelf = beside.shelf
        AND first.path = beside.volume || '/' || ${SOURCE.replaceAll('copy.', 'beside.')}
      CROSS JOIN file ON file.volume = beside.volume AND file.dir = beside.dir AND file.name = beside.name
      CROSS JOIN ledger.source AS source ON source.content = beside.content AND source.volume = file.volume
        AND source.dir = file.dir AND source.name = file.name
    WHERE beside.shelf = ? AND beside.volume = ? AND beside.kind IN ('original', 'sound')
      AND first.state = 'good' AND first.content <> beside.content
      AND source.size = file.size AND ${SAME_TIME} ORDER BY 1`);
  const bad = database.prepare(`
    SELECT ${FILE} WHERE copy.shelf = ? AND copy.volume = ? AND copy.state <> 'good' ORDER BY copy.path LIMIT ?`);
  const sums = database.prepare(`
    SELECT copy.shelf, copy.volume, count(*) AS files, sum(content.size) AS bytes,
      coalesce(sum(content.size) FILTER (WHERE copy.path <> copy.volume || '/' || ${SOURCE}), 0) AS earlierBytes,
      count(*) FILTER (WHERE ${IS_VERIFIED}) AS verifiedFiles,
      coalesce(sum(content.size) FILTER (WHERE ${IS_VERIFIED}), 0) AS verifiedBytes,
      count(*) FILTER (WHERE copy.state = 'differs') AS differing, count(*) FILTER (WHERE copy.state = 'unread') AS unread,
      min(copy.read_at) FILTER (WHERE ${IS_VERIFIED}) AS oldestReadAt,
      max(copy.read_at) FILTER (WHERE ${IS_VERIFIED}) AS newestReadAt
    FROM ledger.copy AS copy CROSS JOIN ledger.content AS content ON content.id = copy.content
    GROUP BY copy.shelf, copy.volume ORDER BY copy.shelf, copy.volume`);
  const lost = database.prepare(`
    SELECT ${FILE} WHERE copy.shelf = :shelf AND copy.volume = :volume
      AND (:project IS NULL OR copy.project = :project) AND ${IS_LOST} ORDER BY copy.path`);
  const note = database.prepare('SELECT text FROM ledger.backup_note WHERE key = ?');
  const putNote = database.prepare('INSERT OR REPLACE INTO ledger.backup_note VALUES (?, ?)');
  for (const statement of [stalest, lost, unlisted, bad]) statement.setReadBigInts(true);
  return {
    shelves: () => shelves.all().map((row) => ({ ...row }) as unknown as KnownShelf),
    putShelf: ({ id, name, drive, seenAt, totalBytes, freeBytes }) =>
      void putShelf.run(id, name, drive, Math.round(seenAt), totalBytes, freeBytes),
    unlisted: (shelf, volume, most) => unlisted.all(shelf, volume, most).map(toListable),
    altered: (shelf, volume) => altered.all(shelf, volume).map(({ source }) => String(source)),
    bad: (shelf, volume, most) => bad.all(shelf, volume, most).map(toShelfFile),
    stalest: (shelf, before, most) => stalest.all(shelf, Math.round(before), most).map(toShelfFile),
    sums: () => sums.all().map((row) => ({ ...row }) as unknown as ShelfSum),
    lost: (volume, project, shelf) => lost.all({ volume, project, shelf }).map(toShelfFile),
    note(key) {
      const row = note.get(key);
      return row === undefined ? null : String(row['text']);
    },
    putNote: (key, text) => void putNote.run(key, text),
  };
}

function toListable({ sums, ...row }: Record<string, unknown>): ListableFile {
  return { ...toShelfFile(row), sums: JSON.parse(String(sums)) as Sums };
}

/** Read with big integers, for the time of modification. */
function toShelfFile(row: Record<string, unknown>): ShelfFile {
  const { size, copiedAt, readAt, ...rest } = row;
  return { ...rest, size: Number(size), copiedAt: Number(copiedAt), readAt: Number(readAt) } as ShelfFile;
}
