import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type ExposureTime,
  exposureAt,
  exposureReaches,
  tbHours,
  watchExposure,
} from '../../../src/core/backup/exposure-time.ts';
import { NOON } from '../samples.ts';

const HOUR = 3_600_000;
const TB = 1e12;
const seen = (exposedBytes: number, exposedSince: number | null) => ({ exposedBytes, exposedSince });

/** Terabyte hours after these looks: hour, bytes, hour since. */
function after(looks: [at: number, bytes: number, since: number | null][]): number {
  let state: ExposureTime | null = null;
  for (const [at, bytes, since] of looks) {
    state = watchExposure(state, seen(bytes, since === null ? null : NOON + since * HOUR), NOON + at * HOUR);
  }
  return state === null ? Number.NaN : tbHours(state);
}

describe('exposure over time, by hand', () => {
  test.each<[string, [number, number, number | null][], number]>([
    [
      'a terabyte for an hour',
      [
        [0, TB, 0],
        [1, TB, 0],
      ],
      1,
    ],
    [
      'two for half an hour',
      [
        [0, 2 * TB, 0],
        [0.5, 2 * TB, 0],
      ],
      1,
    ],
    [
      'what comes later starts at nothing',
      [
        [0, TB, 0],
        [2, 3 * TB, 0],
        [3, 3 * TB, 0],
      ],
      5,
    ],
    [
      'half covered takes half along',
      [
        [0, 2 * TB, 0],
        [1, 2 * TB, 0],
        [1, TB, 0],
      ],
      1,
    ],
    [
      'the oldest half covered counts in full',
      [
        [0, TB, 0],
        [4, 2 * TB, 0],
        [4, TB, 4],
      ],
      0,
    ],
    [
      'all covered',
      [
        [0, TB, 0],
        [4, 0, null],
      ],
      0,
    ],
    ['the first look takes all for as old as the oldest', [[4, TB, 0]], 4],
    [
      'nobody looked for a night',
      [
        [0, TB, 0],
        [10, TB, 0],
      ],
      10,
    ],
    [
      'the clock goes back an hour and nothing is added',
      [
        [2, TB, 0],
        [1, TB, null],
      ],
      2,
    ],
    [
      'what a wrong clock added is gone when it is right',
      [
        [0, TB, 0],
        [90_000, TB, 0],
        [1, TB, 0],
      ],
      1,
    ],
    [
      'footage dated by a clock that was ahead still counts',
      [
        [0, TB, 50],
        [1, TB, 50],
      ],
      1,
    ],
  ])('%s', (_, looks, expected) => {
    expect(after(looks)).toBeCloseTo(expected, 9);
  });

  test('what nobody can tell changes nothing, and the time is made up for', () => {
    const first = watchExposure(null, seen(TB, NOON), NOON);
    expect(watchExposure(first, null, NOON + HOUR)).toBe(first);
    expect(watchExposure(null, null, NOON)).toBeNull();
    const third = watchExposure(first, seen(TB, NOON), NOON + 2 * HOUR);
    expect(third?.byteSeconds).toBeCloseTo(7.2e15, -3);
  });

  test('tells when it will have come to so much', () => {
    const state = watchExposure(null, seen(TB / 2, NOON), NOON + HOUR) as ExposureTime;
    expect(exposureReaches(state, 1)).toBe(NOON + 2 * HOUR);
    expect(exposureReaches(state, 0.25)).toBeLessThan(NOON + HOUR);
    expect(exposureReaches({ ...state, bytes: 0 }, 1)).toBeNull();
  });
});

describe('beside every byte by itself', () => {
  const events = fc.array(
    fc.record({ minutes: fc.integer({ min: 1, max: 300 }), gigabytes: fc.integer({ min: -400, max: 400 }) }),
    { minLength: 1, maxLength: 30 },
  );

  /** Batches with the minute they came; what is covered is covered from the oldest on, as a backup does. */
  function cover(batches: { since: number; gigabytes: number }[], gigabytes: number) {
    let rest = gigabytes;
    return batches.flatMap((batch) => {
      const taken = Math.min(rest, batch.gigabytes);
      rest -= taken;
      return batch.gigabytes > taken ? [{ ...batch, gigabytes: batch.gigabytes - taken }] : [];
    });
  }

  // The definition: each batch with its own age. Exact while nothing is covered; never less than the truth when the oldest go first.
  test('exact while nothing is covered, and on the safe side when the oldest are covered first', () => {
    fc.assert(
      fc.property(events, (history) => {
        let minute = 0;
        let batches: { since: number; gigabytes: number }[] = [];
        let state: ExposureTime | null = watchExposure(null, seen(0, null), NOON);
        let wasCovered = false;
        for (const { minutes, gigabytes } of history) {
          minute += minutes;
          if (gigabytes < 0) wasCovered ||= batches.length > 0;
          batches = gigabytes < 0 ? cover(batches, -gigabytes) : [...batches, { since: minute, gigabytes }];
          batches = batches.filter((batch) => batch.gigabytes > 0);
          const bytes = batches.reduce((sum, batch) => sum + batch.gigabytes, 0) * 1e9;
          const oldest = batches[0];
          state = watchExposure(
            state,
            seen(bytes, oldest === undefined ? null : NOON + oldest.since * 60_000),
            NOON + minute * 60_000,
          );
          const truth = batches.reduce(
            (sum, { since, gigabytes: size }) => sum + size * 1e9 * (minute - since) * 60,
            0,
          );
          const told = state?.byteSeconds ?? Number.NaN;
          expect(told).toBeGreaterThanOrEqual(truth * (1 - 1e-9));
          if (!wasCovered) expect(told).toBeLessThanOrEqual(truth * (1 + 1e-9));
        }
      }),
    );
  });

  test('looking more often changes nothing', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 1000 }), { maxLength: 20 }), (looks) => {
        const first = watchExposure(null, seen(TB, NOON - HOUR), NOON) as ExposureTime;
        let often: ExposureTime | null = first;
        let now = NOON;
        for (const seconds of looks) {
          now += seconds * 1000;
          often = watchExposure(often, seen(TB, NOON - HOUR), now);
        }
        const once = watchExposure(first, seen(TB, NOON - HOUR), now);
        expect((often?.byteSeconds ?? 0) / (once?.byteSeconds ?? 0)).toBeCloseTo(1, 9);
        expect(exposureAt(first, now).byteSeconds / (once?.byteSeconds ?? 0)).toBeCloseTo(1, 9);
      }),
    );
  });
});
