import type { DatabaseSync } from 'node:sqlite';
import { addFiles } from '../../core/assess/footprint.ts';
import type { Area, Instant, Kind, PathText } from '../../core/model.ts';
import { type CatalogueWrites, emptyChange, noteLeftUnit, noteLink } from './catalogue-writes.ts';
import { rangeBelow, splitPath } from './file-rows.ts';
import { openFirstSight } from './first-sight.ts';
import { inTransaction } from './transaction.ts';

export interface Forgotten {
  units: string[];
  files: number;
  bytes: number;
}

/**
 * Removes files, and folders with all below them, set by set: a vanished tree may have 100,000 frames. `CROSS JOIN` keeps
 * SQLite from walking the whole `file` table for the few that are marked.
 */
export function openForget(
  database: DatabaseSync,
  { removeClips, settle }: Pick<CatalogueWrites, 'removeClips' | 'settle'>,
): (volume: string, paths: PathText[], at: Instant) => Forgotten {
  const mark = openMark(database);
  const sumsOfMarked = database.prepare(`
    SELECT area, project, kind, count(*) AS files, sum(CASE counted WHEN 1 THEN size ELSE 0 END) AS bytes
    FROM doomed CROSS JOIN file USING (id) GROUP BY area, project, kind`);
  const unitsOfMarked = database.prepare(
    "SELECT unit, max(kind <> 'sidecar') AS essence FROM doomed CROSS JOIN file USING (id) GROUP BY unit",
  );
  const { keepDoomed } = openFirstSight(database);
  const linksOfMarked = database.prepare(
    'SELECT DISTINCT ino, dev FROM doomed CROSS JOIN file USING (id) WHERE nlink > 1',
  );
  linksOfMarked.setReadBigInts(true);
  const remove = database.prepare('DELETE FROM file WHERE id IN (SELECT id FROM doomed)');
  const unmark = database.prepare('DELETE FROM doomed');

  return (volume, paths, at) =>
    inTransaction(database, () => {
      for (const path of paths) mark(volume, path);
      const change = emptyChange();
      let files = 0;
      for (const row of sumsOfMarked.all()) {
        const place = { volume, area: row['area'] as Area, project: row['project'] as string | null };
        const sum = { ...place, kind: row['kind'] as Kind, files: Number(row['files']), bytes: Number(row['bytes']) };
        addFiles(change.difference, { ...sum, files: -sum.files, bytes: -sum.bytes });
        files += sum.files;
      }
      for (const { unit, essence } of unitsOfMarked.all()) {
        if (essence === 1) removeClips(change, volume, String(unit));
        noteLeftUnit(change, volume, String(unit));
      }
      for (const { ino, dev } of linksOfMarked.all()) noteLink(change, volume, ino as bigint, dev as bigint);
      keepDoomed(at);
      remove.run();
      unmark.run();
      const units = settle(change).sort();
      return { units, files, bytes: takenOff(change.difference.files.values()) };
    });
}

function openMark(database: DatabaseSync): (volume: string, path: PathText) => void {
  const insert = 'INSERT OR IGNORE INTO doomed SELECT id FROM file WHERE volume = ?';
  const all = database.prepare(insert);
  const file = database.prepare(`${insert} AND dir = ? AND name = ?`);
  const inside = database.prepare(`${insert} AND dir = ?`);
  const below = database.prepare(`${insert} AND dir >= ? AND dir < ?`);
  return (volume, path) => {
    if (path === '') {
      all.run(volume);
      return;
    }
    const { dir, name } = splitPath(path);
    const { from, to } = rangeBelow(path);
    file.run(volume, dir, name);
    inside.run(volume, path);
    below.run(volume, from, to);
  };
}

/** What a difference takes off, in bytes. */
function takenOff(sums: Iterable<{ bytes: number }>): number {
  let total = 0;
  for (const { bytes } of sums) total -= bytes;
  return total;
}
