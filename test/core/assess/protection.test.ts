import { describe, expect, test } from 'vitest';
import { lossChance, lossesPerHour, NIGHT_HOURS, YEAR_HOURS } from '../../../src/core/assess/protection.ts';

/** Wear of drives that last so many hours on average. */
const wear = (meanHours: number, repairHours: number) => ({
  failsInYear: 1 - Math.exp(-YEAR_HOURS / meanHours),
  repairHours,
  otherInYear: 0,
});
const YEAR = 24 * 365;

describe('mean time to the loss of an array', () => {
  // Chen et al. 1994, section 3.4: 100 disks in groups of 16, a disk lasts 200,000 h, an hour to repair: "about 3000 years".
  test('level 5, as printed', () => {
    const years = 1 / (lossesPerHour('5', 16, wear(200_000, 1)) * (100 / 16)) / YEAR;
    expect(years).toBeGreaterThan(0.98 * 3044);
    expect(years).toBeLessThan(1.02 * 3044);
  });

  // The same: two parities, printed as 38 million years, for which 114.3 disks in groups of 16 are needed.
  test('level 6, as printed', () => {
    const years = 1 / (lossesPerHour('6', 16, wear(200_000, 1)) * (114.3 / 16)) / YEAR;
    expect(years / 1e6).toBeGreaterThan(0.99 * 38.05);
    expect(years / 1e6).toBeLessThan(1.01 * 38.05);
  });

  // Patterson, Gibson, Katz 1988 (from memory, arithmetic confirmed): 100 disks of 30,000 h; as a stripe 300 h; mirrored (100 pairs),
  // an hour to repair: 4,500,000 h.
  test('a stripe and mirrored pairs, as printed', () => {
    expect(1 / lossesPerHour('0', 100, wear(30_000, 1))).toBeCloseTo(300, 6);
    const hours = 1 / lossesPerHour('10', 200, wear(30_000, 1));
    expect(hours / 4.5e6).toBeCloseTo(1, 2);
    expect(lossesPerHour('1', 2, wear(30_000, 1)) * 100).toBeCloseTo(1 / hours, 12);
  });

  // Continuous-time Markov chains, solved numerically (own): hours until loss.
  test.each([
    ['5', 4, 1.2e6, 24, 5_000_700_000],
    ['5', 8, 1.2e6, 24, 1_071_750_000],
    ['4', 8, 1.2e6, 24, 1_071_750_000],
    ['6', 8, 1.2e6, 24, 8_931_070_000_000],
  ] as const)('level %s of %i', (level, members, meanHours, repairHours, hours) => {
    expect(1 / lossesPerHour(level, members, wear(meanHours, repairHours)) / hours).toBeCloseTo(1, 3);
  });
});

describe('the chance of losing all', () => {
  const usual = { failsInYear: 0.015, repairHours: 24, otherInYear: 0.01 };
  test('one drive fails as often as such drives do, and other causes come on top', () => {
    expect(lossChance('single', 1, { ...usual, otherInYear: 0 }, YEAR_HOURS)).toBeCloseTo(0.015, 9);
    expect(lossChance('single', 1, usual, YEAR_HOURS)).toBeCloseTo(1 - 0.985 * 0.99, 9);
  });

  // Common practice, no source: one failed member of a stripe loses everything; a night of four of them some 2 in 10,000.
  test('four striped members', () => {
    expect(lossChance('0', 4, { ...usual, otherInYear: 0 }, YEAR_HOURS)).toBeCloseTo(1 - 0.985 ** 4, 9);
    const night = lossChance('0', 4, usual, NIGHT_HOURS);
    expect(night).toBeGreaterThan(1.5e-4);
    expect(night).toBeLessThan(2.5e-4);
  });

  test('what other causes take is what is left of every redundant level', () => {
    for (const level of ['10', '4', '5', '6'] as const) {
      const year = lossChance(level, 8, usual, YEAR_HOURS);
      expect(year).toBeGreaterThan(0.01);
      expect(year).toBeLessThan(0.0102);
    }
  });
});
