import type { DatabaseSync } from 'node:sqlite';
import type { SpeedSample } from '../../core/assess/speed-sample.ts';
import type { KeptSample } from '../../core/store-ports.ts';

export interface SpeedSampleQueries {
  /** Oldest first. */
  all(): KeptSample[];
  put(kept: KeptSample): void;
}

export function openSpeedSamples(database: DatabaseSync): SpeedSampleQueries {
  const all = database.prepare('SELECT build, json FROM ledger.speed_sample ORDER BY at, volume');
  const put = database.prepare(
    'INSERT INTO ledger.speed_sample VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE SET build = excluded.build, json = excluded.json',
  );
  return {
    all: () =>
      all.all().map((row) => {
        return { build: String(row['build']), sample: JSON.parse(String(row['json'])) as SpeedSample };
      }),
    put: ({ build, sample }) => void put.run(sample.volume, Math.round(sample.at), build, JSON.stringify(sample)),
  };
}
