import type { DatabaseSync, SQLOutputValue } from 'node:sqlite';
import { addFiles, type FileSum } from '../../core/assess/footprint.ts';
import { type Area, FOOTAGE_KINDS, type Instant, type Kind, type PathText } from '../../core/model.ts';
import type { ForgetOnly } from '../../core/store-ports.ts';
import { type CatalogueWrites, emptyChange, noteLeftUnit, noteLink } from './catalogue-writes.ts';
import { joinPath, rangeBelow, splitPath } from './file-rows.ts';
import { openFirstSight } from './first-sight.ts';
import { openRemovals, type Removed } from './removals.ts';
import { inTransaction } from './transaction.ts';

export interface Forgotten {
  units: string[];
  files: number;
  bytes: number;
  first: PathText | null;
}

/**
 * Removes files, and folders with all below them, set by set: a vanished tree may have 100,000 frames. `CROSS JOIN` keeps
 * SQLite from walking the whole `file` table for the few that are marked.
 */
export function openForget(
  database: DatabaseSync,
  { clips, settle }: Pick<CatalogueWrites, 'clips' | 'settle'>,
): (volume: string, paths: PathText[], when: { only: ForgetOnly | null; at: Instant }) => Forgotten {
  const mark = openMark(database);
  const renamed = openRenamed(database);
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
  const removals = openRemovals(database);

  return (volume, paths, { only, at }) =>
    inTransaction(database, () => {
      for (const path of paths) mark(volume, path, only !== 'files');
      if (only === 'renamed') renamed.keepOnly();
      const moved = renamed.sums();
      const first = renamed.firstOther();
      const change = emptyChange();
      for (const row of sumsOfMarked.all()) {
        const sum = toSum(row);
        addFiles(change.difference, { volume, ...sum, files: -sum.files, bytes: -sum.bytes });
      }
      for (const { unit, essence } of unitsOfMarked.all()) {
        if (essence === 1) clips.remove(change, volume, String(unit));
        noteLeftUnit(change, volume, String(unit));
      }
      for (const { ino, dev } of linksOfMarked.all()) noteLink(change, volume, ino as bigint, dev as bigint);
      keepDoomed(at);
      remove.run();
      unmark.run();
      const units = settle(change).sort();
      const gone = lost(change.difference.files.values(), moved);
      if (only !== 'left-out') removals.book(volume, gone, at);
      return { units, files: total(gone, 'files'), bytes: total(gone, 'bytes'), first };
    });
}

function openMark(database: DatabaseSync): (volume: string, path: PathText, withContent: boolean) => void {
  const insert = 'INSERT OR IGNORE INTO doomed SELECT id FROM file WHERE volume = ?';
  const all = database.prepare(insert);
  const file = database.prepare(`${insert} AND dir = ? AND name = ?`);
  const inside = database.prepare(`${insert} AND dir = ?`);
  const below = database.prepare(`${insert} AND dir >= ? AND dir < ?`);
  return (volume, path, withContent) => {
    if (path === '' && withContent) {
      all.run(volume);
      return;
    }
    const { dir, name } = splitPath(path);
    const { from, to } = rangeBelow(path);
    file.run(volume, dir, name);
    if (!withContent) return;
    inside.run(volume, path);
    below.run(volume, from, to);
  };
}

/** Those of the marked that are known under another path by now (`isRenamed` in core/intake/moved.ts). */
function openRenamed(database: DatabaseSync) {
  const isRenamed = `old.nlink <= 1 AND old.ino <> 0 AND EXISTS (
    SELECT 1 FROM file AS other INDEXED BY file_by_inode
    WHERE other.volume = old.volume AND other.ino = old.ino AND other.nlink <= 1
      AND (old.state = 'arriving' OR (other.size = old.size AND other.mtime_ns = old.mtime_ns))
      AND NOT EXISTS (SELECT 1 FROM doomed WHERE doomed.id = other.id))`;
  const sums = database.prepare(`
    SELECT area, project, kind, count(*) AS files, sum(size) AS bytes FROM doomed CROSS JOIN file AS old USING (id)
    WHERE ${isRenamed} GROUP BY area, project, kind`);
  const firstOther = database.prepare(`
    SELECT dir, name FROM doomed CROSS JOIN file AS old USING (id) WHERE NOT (${isRenamed}) ORDER BY dir, name LIMIT 1`);
  const spareOthers = database.prepare(`
    DELETE FROM doomed WHERE id IN (SELECT id FROM doomed CROSS JOIN file AS old USING (id) WHERE NOT (${isRenamed}))`);
  return {
    sums: () => sums.all().map(toSum),
    firstOther(): PathText | null {
      const row = firstOther.get();
      return row === undefined ? null : joinPath(String(row['dir']), String(row['name']));
    },
    keepOnly: () => void spareOthers.run(),
  };
}

type Sum = Pick<FileSum, 'area' | 'project' | 'kind' | 'files' | 'bytes'>;

function toSum(row: Record<string, SQLOutputValue>): Sum {
  const { area, project, kind, files, bytes } = row;
  return {
    area: area as Area,
    project: project as string | null,
    kind: kind as Kind,
    files: Number(files),
    bytes: Number(bytes),
  };
}

/** What a difference takes off, less what is only under another name now, by project. */
function lost(difference: Iterable<Sum>, moved: readonly Sum[]): Removed[] {
  const removed = new Map<string, Removed>();
  const take = ({ area, project, kind, files, bytes }: Sum, times: number): void => {
    const key = `${area} ${project ?? '/'}`;
    const before = removed.get(key) ?? { area, project, files: 0, bytes: 0, footageBytes: 0 };
    const footage = FOOTAGE_KINDS.includes(kind) ? bytes : 0;
    removed.set(key, {
      ...before,
      files: before.files + times * files,
      bytes: before.bytes + times * bytes,
      footageBytes: before.footageBytes + times * footage,
    });
  };
  for (const sum of difference) take(sum, -1);
  for (const sum of moved) take(sum, -1);
  return [...removed.values()];
}

function total(removed: readonly Removed[], what: 'files' | 'bytes'): number {
  return removed.reduce((sum, each) => sum + each[what], 0);
}
