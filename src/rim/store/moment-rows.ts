import type { DatabaseSync, SQLOutputValue } from 'node:sqlite';
import type { VolumeMoment } from '../../core/assess/moments.ts';
import type { Grain } from '../../core/store-ports.ts';
import { inTransaction } from './transaction.ts';

export interface MomentRows {
  /** From this instant on, in order of time. */
  get(volume: string, grain: Grain, since: number): VolumeMoment[];
  /** Minutes that begin before `forget` go. */
  put(volume: string, grain: Grain, moments: readonly VolumeMoment[], forget: number | null): void;
}

const SECONDS: Readonly<Record<Grain, number>> = { minute: 60, hour: 3600 };

export function openMomentRows(database: DatabaseSync): MomentRows {
  const some = database.prepare('SELECT * FROM ledger.moment WHERE volume = ? AND grain = ? AND at >= ? ORDER BY at');
  const put = database.prepare('INSERT OR REPLACE INTO ledger.moment VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)');
  const drop = database.prepare('DELETE FROM ledger.moment WHERE volume = ? AND grain = 60 AND at < ?');
  return {
    get: (volume, grain, since) => some.all(volume, SECONDS[grain], Math.round(since)).map(momentFrom),
    put(volume, grain, moments, forget) {
      inTransaction(database, () => {
        for (const one of moments) {
          put.run(
            ...[volume, SECONDS[grain], Math.round(one.at), one.needBps, one.needFor],
            ...[one.budgetBps, one.givenBps, one.peakBps],
            ...[one.usedBytes, one.roomEndBytes, one.exposedBytes, one.verifiedAt].map(wholeOrNull),
          );
        }
        if (forget !== null) drop.run(volume, Math.round(forget));
      });
    },
  };
}

function momentFrom(row: Record<string, SQLOutputValue>): VolumeMoment {
  const figure = (name: string) => (row[name] === null ? null : Number(row[name]));
  return {
    at: Number(row['at']),
    needBps: figure('need_bps'),
    needFor: row['need_for'] === null ? null : String(row['need_for']),
    budgetBps: figure('budget_bps'),
    givenBps: figure('given_bps'),
    peakBps: figure('peak_bps'),
    usedBytes: figure('used_bytes'),
    roomEndBytes: figure('room_end_bytes'),
    exposedBytes: figure('exposed_bytes'),
    verifiedAt: figure('verified_at'),
  };
}

function wholeOrNull(value: number | null): number | null {
  return value === null ? null : Math.round(value);
}
