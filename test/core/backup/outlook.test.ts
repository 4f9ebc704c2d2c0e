import { describe, expect, test } from 'vitest';
import type { DueSeen } from '../../../src/core/backup/due.ts';
import { NEW_JOB, noteJob } from '../../../src/core/backup/due-state.ts';
import { backupOutlook, type JobKnown, meanDayBytes } from '../../../src/core/backup/outlook.ts';
import { timetable } from '../../../src/core/backup/slots.ts';
import { NOON } from '../samples.ts';

const HOUR = 3_600_000;
const GB = 1e9;
/** 120 MB/s, then read back. */
const SLOW = 2 / 120e6;

function known(shelves: DueSeen['shelves'], rates: (number | null)[], text = '0 4 * * *'): JobKnown {
  return {
    job: { table: timetable(text, 'UTC'), windowSeconds: 6 * 3600 },
    state: noteJob(NEW_JOB, { type: 'opened', shelves: shelves.map(({ name }) => name) }, NOON),
    seen: { shelves, exposed: null, footageCameAt: null, quietSince: NOON, hindrance: null },
    secondsPerByte: rates,
  };
}
const shelf = (name: string, lacksBytes: number | null, isThere = true) => ({
  name,
  isThere,
  lacksBytes,
  hadAllAt: null,
});
const volume = { bytesPerDay: 0, exposed: null, layout: { level: '0' as const, members: 4 }, failed: 0 };
const night = (shelves: DueSeen['shelves'], rates: (number | null)[], bytesPerDay = 0) =>
  backupOutlook([known(shelves, rates)], { ...volume, bytesPerDay }, NOON).nights[0];

describe('a night', () => {
  // Arithmetic: 750 GB / 120 MB/s = 6250 s, twice: 12,500 s; 1.5 TB twice that, which is more than six hours.
  test('has all shelves that are there, one after the other', () => {
    expect(night([shelf('shelf-a', 750 * GB)], [SLOW])).toMatchObject({ seconds: 12_500, fits: true, nights: 1 });
    const two = night([shelf('shelf-a', 750 * GB), shelf('shelf-b', 750 * GB)], [SLOW, SLOW]);
    expect(two).toMatchObject({ bytes: 1500 * GB, fits: false });
    expect(two?.seconds).toBeCloseTo(25_000, 6);
    const away = [shelf('shelf-a', 750 * GB), shelf('shelf-b', 750 * GB, false)];
    expect(night(away, [SLOW, null])).toMatchObject({ seconds: 12_500, fits: true });
  });

  test('with shelves of different speed takes the time of each', () => {
    const each = night([shelf('shelf-a', 100 * GB), shelf('shelf-b', 300 * GB)], [SLOW, SLOW / 3]);
    expect(each?.seconds).toBeCloseTo((100 * GB + 100 * GB) * SLOW, 6);
  });

  test('brings to each shelf what a day brings', () => {
    const two = night([shelf('shelf-a', 1500 * GB), shelf('shelf-b', 0)], [SLOW, SLOW], 200 * GB);
    expect(two?.bytesPerDay).toBe(400 * GB);
    // Six hours take 1296 GB: 1500 - 400 over 1296 - 400, rounded up.
    expect(two?.nights).toBe(2);
  });

  test('tells whether its backup is under way now', () => {
    const one = known([shelf('shelf-a', 750 * GB)], [SLOW]);
    const run = { reason: 'nightly', startedAt: NOON, shelves: ['shelf-a'] } as unknown as typeof one.state.run;
    const told = (state: typeof one.state) => backupOutlook([{ ...one, state }], volume, NOON).nights[0]?.isRunning;
    expect([told(one.state), told({ ...one.state, run })]).toEqual([false, true]);
  });

  test('is not known where the speed, or what is lacking, is not', () => {
    expect(night([shelf('shelf-a', 1)], [null])).toBeNull();
    expect(night([shelf('shelf-a', null)], [SLOW])).toBeNull();
    expect(night([shelf('shelf-a', 1, false)], [SLOW])).toBeNull();
    expect(night([shelf('shelf-a', 0), shelf('shelf-b', 5)], [null, SLOW])?.bytes).toBe(5);
  });
});

describe('until the next backup has ended', () => {
  test('hours are those until it begins, and those it takes; with a speed that is not known, its window', () => {
    const hours = (rates: (number | null)[]) =>
      backupOutlook([known([shelf('shelf-a', 432 * GB)], rates)], volume, NOON).loss?.hours;
    // 16 h to 04:00; 432 GB take two.
    expect(hours([SLOW])).toBeCloseTo(18, 6);
    expect(hours([null])).toBeCloseTo(22, 6);
  });

  test('the first of several backups counts; without a shelf nobody knows', () => {
    const [late, soon] = [known([shelf('shelf-a', 0)], [SLOW]), known([shelf('shelf-b', 0)], [SLOW], '0 20 * * *')];
    const outlook = backupOutlook([late, soon], volume, NOON);
    expect(outlook.next).toMatchObject({ at: NOON + 8 * HOUR, reason: 'nightly' });
    expect(outlook.loss?.hours).toBeCloseTo(8, 6);
    const away = backupOutlook([known([shelf('shelf-a', 5, false)], [SLOW])], volume, NOON);
    expect(away).toMatchObject({ next: null, wait: 'shelf-absent', loss: null });
    expect(backupOutlook([late], { ...volume, layout: null }, NOON).loss).toBeNull();
  });

  test('while it runs, those that are left', () => {
    const one = known([shelf('shelf-a', 216 * GB)], [SLOW]);
    const start = { do: 'start', reason: 'nightly', shelves: ['shelf-a'], until: null } as const;
    const state = noteJob(one.state, { type: 'started', start: { ...start, shelves: ['shelf-a'] } }, NOON);
    const outlook = backupOutlook([{ ...one, state }], volume, NOON);
    expect(outlook.wait).toBeNull();
    expect(outlook.loss?.hours).toBeCloseTo(1, 6);
  });
});

test('a mean day is over two weeks at most, and only this volume counts', () => {
  const hour = Math.floor(NOON / HOUR);
  const came = (name: string, ...hours: [ago: number, bytes: number][]) => ({
    sum: { volume: name },
    hours: hours.map(([ago, bytes]) => ({ hour: hour - ago, bytes })),
  });
  expect(meanDayBytes([], 'stripe', NOON)).toBe(0);
  expect(meanDayBytes([came('stripe', [2, 60])], 'stripe', NOON)).toBe(60);
  expect(meanDayBytes([came('stripe', [71, 60], [2, 60]), came('other', [1, 999])], 'stripe', NOON)).toBe(40);
  expect(meanDayBytes([came('stripe', [24 * 100, 999], [24, 140])], 'stripe', NOON)).toBe(10);
});
