import type { DatabaseSync, SQLInputValue } from 'node:sqlite';
import { FIRST_SIGHT_KEPT_MS } from '../../core/assess/footprint.ts';
import type { Instant } from '../../core/model.ts';

export interface FirstSight {
  /**
   * When the content under a new name was first seen: now, or earlier when a file of this inode, size and time is known
   * under another name or went lately. Takes the parameters of the new row.
   */
  of(parameters: Record<string, SQLInputValue>, at: Instant): Instant;
  /** Keeps the first sightings of what is about to be removed, for a while. */
  keepDoomed(at: Instant): void;
}

export function openFirstSight(database: DatabaseSync): FirstSight {
  const known = database.prepare(`
    SELECT min(first_seen_at) AS at FROM file INDEXED BY file_by_inode
    WHERE volume = ? AND ino = ? AND size = ? AND mtime_ns = ?`);
  const gone = database.prepare(`
    SELECT first_seen_at AS at FROM gone_footage
    WHERE volume = ? AND ino = ? AND size = ? AND mtime_ns = ? AND gone_at >= ?`);
  const keep = database.prepare(`
    INSERT INTO gone_footage
    SELECT volume, ino, size, mtime_ns, min(first_seen_at), ? FROM doomed CROSS JOIN file USING (id)
    WHERE exposable = 1 AND size > 0 GROUP BY volume, ino, size, mtime_ns
    ON CONFLICT DO UPDATE SET first_seen_at = min(first_seen_at, excluded.first_seen_at), gone_at = excluded.gone_at`);
  const drop = database.prepare('DELETE FROM gone_footage WHERE gone_at < ?');
  return {
    of({ volume = null, ino = null, size = null, mtimeNs = null }, at) {
      const content = [volume, ino, size, mtimeNs];
      const found = [known.get(...content), gone.get(...content, at - FIRST_SIGHT_KEPT_MS)];
      const times = found.map((row) => row?.['at']).filter((time) => typeof time === 'number');
      return Math.min(at, ...times);
    },
    keepDoomed(at) {
      drop.run(at - FIRST_SIGHT_KEPT_MS);
      keep.run(at);
    },
  };
}
