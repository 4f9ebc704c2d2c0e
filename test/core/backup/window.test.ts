import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { nightFigures } from '../../../src/core/backup/window.ts';

const GB = 1e9;
const HOUR = 3600;
/** To a shelf that takes and gives 120 MB/s. */
const night = (bytes: number, bytesPerDay: number) =>
  nightFigures({ bytes, bytesPerDay, windowSeconds: 6 * HOUR }, 1 / 120e6 + 1 / 120e6);

// Arithmetic: 750 GB / 120 MB/s = 6250 s, twice (the copy is read back) 12,500 s = 3.47 h.
describe('a night', () => {
  test('750 GB at 120 MB/s with reading back take 3.5 h, and fit six', () => {
    const { seconds, fits, headroom } = night(750 * GB, 0);
    expect(seconds / HOUR).toBeCloseTo(3.47, 2);
    expect(fits).toBe(true);
    expect(headroom).toBeCloseTo(1 - 12_500 / 21_600, 9);
  });

  test('1.5 TB take 6.9 h, and do not', () => {
    const { seconds, fits, headroom } = night(1500 * GB, 0);
    expect(seconds / HOUR).toBeCloseTo(6.94, 2);
    expect(fits).toBe(false);
    expect(headroom).toBeCloseTo(1 - 25_000 / 21_600, 9);
  });
});

describe('nights to catch up', () => {
  // Six hours at 60 MB/s (written, then read back): 1296 GB.
  test('most that a night takes', () => {
    expect(night(0, 0).nightBytes).toBeCloseTo(1296 * GB, 0);
  });

  test.each([
    ['nothing to copy', 0, 500, 0],
    ['fits tonight', 1296, 500, 1],
    ['a backlog of 1000 beside a day of 500, 796 gained each night', 1500, 500, 2],
    ['a backlog of 4000', 4500, 500, 6],
    ['each day brings as much as a night takes', 1297, 1296, null],
    ['and it fits tonight all the same', 1000, 2000, 1],
  ])('%s', (_, gigabytes, perDay, nights) => {
    expect(night(gigabytes * GB, perDay * GB).nights).toBe(nights);
  });

  // The nights themselves, one after the other.
  test('are those that pass', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 20_000 }), fc.integer({ min: 0, max: 1200 }), (gigabytes, perDay) => {
        let left = gigabytes;
        let nights = 1;
        for (; left > 1296; nights++) left = left - 1296 + perDay;
        expect(night(gigabytes * GB, perDay * GB).nights).toBe(nights);
      }),
    );
  });
});
