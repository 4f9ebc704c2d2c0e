import type { DatabaseSync } from 'node:sqlite';
import type { Area, Instant } from '../../core/model.ts';
import type { Removal } from '../../core/store-ports.ts';

/** Of one project, or of what lies outside of all. */
export type Removed = Omit<Removal, 'hour'>;

export interface Removals {
  /** Within a change: books what was removed at `at`. */
  book(volume: string, removed: Iterable<Removed>, at: Instant): void;
  since(volume: string, since: Instant): Removal[];
}

const HOUR_MS = 3_600_000;

export function openRemovals(database: DatabaseSync): Removals {
  const add = database.prepare(`
    INSERT INTO ledger.removal VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE SET
      files = files + excluded.files, bytes = bytes + excluded.bytes, footage_bytes = footage_bytes + excluded.footage_bytes`);
  const read = database.prepare(
    'SELECT * FROM ledger.removal WHERE volume = ? AND hour >= ? ORDER BY hour, area, project',
  );
  return {
    book(volume, removed, at) {
      const hour = Math.floor(at / HOUR_MS) * HOUR_MS;
      for (const { area, project, files, bytes, footageBytes } of removed) {
        // Without files: bytes that count here now, because their other name was removed.
        if (files !== 0 || bytes !== 0) add.run(volume, hour, area, project ?? '', files, bytes, footageBytes);
      }
    },
    since: (volume, since) =>
      read.all(volume, since).map((row) => ({
        hour: Number(row['hour']),
        area: row['area'] as Area,
        project: row['project'] === '' ? null : String(row['project']),
        files: Number(row['files']),
        bytes: Number(row['bytes']),
        footageBytes: Number(row['footage_bytes']),
      })),
  };
}
