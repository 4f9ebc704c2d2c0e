import { expect, test } from 'vitest';
import { type BackupOutlook, NO_BACKUPS, type ShelfState } from '../../../src/core/backup/backup-view.ts';
import { HOUR_MS } from '../../../src/core/forecast/growth.ts';
import { createForecastView } from '../../../src/daemon/assess/forecast-view.ts';
import { withShelvesAhead } from '../../../src/daemon/assess/shelf-ahead.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import { NOON } from '../../core/samples.ts';

const TB = 1e12;
const DAY_MS = 24 * HOUR_MS;
const nowHour = Math.floor(NOON / HOUR_MS);
/** 500 GB on each of 40 days, and as much that programs made, which no shelf sees. */
const HOURS = Array.from({ length: 40 }, (_, index) => ({
  ...{ hour: nowHour - 24 * (40 - index) + 5, ingestBytes: 0.5 * TB, otherBytes: 0.5 * TB, deletedBytes: 0 },
}));
const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, volumes: ['stripe'], state: 'ready', message: null },
  ...{ lookedAt: NOON, full: null },
  known: { id: 'id-a', name: 'shelf-a', drive: null, seenAt: NOON, totalBytes: 20 * TB, freeBytes: 5.2 * TB },
};

function fullOf(shelf: ShelfState, hours = HOURS, lacks: number | null = null) {
  const outlook: BackupOutlook = {
    ...{
      next: null,
      wait: null,
      exposedTbHours: null,
      due: [],
      lacks: [{ shelf: 'shelf-a', bytes: lacks }],
      nights: [],
      loss: null,
    },
  };
  const { shelves } = withShelvesAhead(
    { ...NO_BACKUPS, shelves: [shelf], outlooks: new Map([['stripe', outlook]]) },
    { at: NOON, growth: () => ({ hours, version: 1 }), planned: () => [], forecast: createForecastView(seededDraws) },
  );
  return shelves[0]?.full;
}

test('a shelf is full when what comes has used up its room but the hundredth that stays free', () => {
  // 5.0 TB at 500 GB on every day of forty: ten days, if it goes on.
  const full = fullOf(SHELF);
  expect((full?.at50 ?? 0) - NOON).toBeGreaterThan(7 * DAY_MS);
  expect((full?.at50 ?? 0) - NOON).toBeLessThan(14 * DAY_MS);
  expect(full?.at10).toBeLessThan(full?.at50 ?? 0);
});

test('what it still lacks counts as copied', () => {
  // 3 TB of the 5 TB are spoken for: four days, if it goes on.
  const full = fullOf(SHELF, HOURS, 3 * TB);
  expect((full?.at50 ?? 0) - NOON).toBeGreaterThan(2 * DAY_MS);
  expect((full?.at50 ?? 0) - NOON).toBeLessThan(6 * DAY_MS);
});

test('nothing is told of one that was never seen, or of footage that nobody knows', () => {
  expect(fullOf({ ...SHELF, known: null })).toBeNull();
  expect(fullOf(SHELF, [])).toBeNull();
});
