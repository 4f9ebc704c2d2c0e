import type { DatabaseSync } from 'node:sqlite';
import type { BookedHour, GrowthMark } from '../../core/forecast/booking.ts';
import { FOOTAGE_KINDS } from '../../core/model.ts';
import type { KeptGrowth } from '../../core/store-ports.ts';
import { inTransaction } from './transaction.ts';

export interface GrowthRows {
  /** Of a volume: the hours from this one on, in order of time, and up to when they are booked. */
  get(volume: string, sinceHour: number): KeptGrowth;
  put(volume: string, mark: GrowthMark, hours: readonly BookedHour[]): void;
  /** Bytes of the footage that is there, by the hour in which its files were changed last; of a project, or of all. */
  footageHours(volume: string, project: string | null): { hour: number; bytes: number }[];
}

export function openGrowthRows(database: DatabaseSync): GrowthRows {
  const hours = database.prepare(`
    SELECT hour, ingest_bytes AS ingestBytes, other_bytes AS otherBytes, deleted_bytes AS deletedBytes
    FROM ledger.growth_hour WHERE volume = ? AND hour >= ? ORDER BY hour`);
  const mark = database.prepare('SELECT at, used_bytes, footage_bytes FROM ledger.growth_mark WHERE volume = ?');
  const putHour = database.prepare('INSERT OR REPLACE INTO ledger.growth_hour VALUES (?, ?, ?, ?, ?)');
  const putMark = database.prepare('INSERT OR REPLACE INTO ledger.growth_mark VALUES (?, ?, ?, ?)');
  const kinds = FOOTAGE_KINDS.map((kind) => `'${kind}'`).join(', ');
  const changed = database.prepare(`
    SELECT ctime_ns / 3600000000000 AS hour, sum(size) AS bytes FROM file
    WHERE volume = ? AND counted = 1 AND kind IN (${kinds}) GROUP BY 1 ORDER BY 1`);
  const changedIn = database.prepare(`
    SELECT ctime_ns / 3600000000000 AS hour, sum(size) AS bytes FROM file INDEXED BY file_exposure
    WHERE volume = ? AND area = 'project' AND project = ? AND exposable = 1 AND size > 0 AND counted = 1 GROUP BY 1 ORDER BY 1`);
  return {
    get(volume, sinceHour) {
      const row = mark.get(volume);
      const known: GrowthMark | null =
        row === undefined
          ? null
          : { at: Number(row['at']), usedBytes: Number(row['used_bytes']), footageBytes: Number(row['footage_bytes']) };
      const found = hours.all(volume, sinceHour).map((hour) => ({
        hour: Number(hour['hour']),
        ingestBytes: Number(hour['ingestBytes']),
        otherBytes: Number(hour['otherBytes']),
        deletedBytes: Number(hour['deletedBytes']),
      }));
      return { mark: known, hours: found };
    },
    put(volume, { at, usedBytes, footageBytes }, booked) {
      inTransaction(database, () => {
        for (const { hour, ingestBytes, otherBytes, deletedBytes } of booked) {
          putHour.run(volume, hour, ingestBytes, otherBytes, deletedBytes);
        }
        putMark.run(volume, Math.round(at), usedBytes, footageBytes);
      });
    },
    footageHours: (volume, project) =>
      (project === null ? changed.all(volume) : changedIn.all(volume, project)).map((row) => ({
        hour: Number(row['hour']),
        bytes: Number(row['bytes']),
      })),
  };
}
