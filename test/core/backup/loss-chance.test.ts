import { describe, expect, test } from 'vitest';
import { lossesPerHour, YEAR_HOURS } from '../../../src/core/assess/protection.ts';
import { type LossLayout, lossBeforeBackup } from '../../../src/core/backup/loss-chance.ts';
import { NOON } from '../samples.ts';

const wear = (meanHours: number, repairHours: number, otherInYear = 0) => ({
  failsInYear: 1 - Math.exp(-YEAR_HOURS / meanHours),
  repairHours,
  otherInYear,
});
const chance = (layout: LossLayout, worn: ReturnType<typeof wear>, hours: number) =>
  lossBeforeBackup(layout, worn, NOON, NOON + hours * 3_600_000)?.chance ?? Number.NaN;

/**
 * A continuous-time Markov chain: members fail by themselves and are repaired by themselves (one at a time where `isSerial`), and the array
 * is lost when one more has failed than it survives. Uniformisation, whose terms are all positive: no rounding eats small chances.
 */
function chain(
  { members, survives, failed = 0, isSerial = false }: ChainOf,
  meanHours: number,
  repairHours: number,
  hours: number,
) {
  const states = survives + 2;
  const up = (k: number) => (k > survives ? 0 : (members - k) / meanHours);
  const down = (k: number) => (k > survives || k === 0 ? 0 : (isSerial ? 1 : k) / repairHours);
  const pace = Math.max(...Array.from({ length: states }, (_, k) => up(k) + down(k)));
  let p: number[] = Array.from({ length: states }, (_, k) => (k === failed ? 1 : 0));
  let weight = Math.exp(-pace * hours);
  let lost = weight * (p[states - 1] ?? 0);
  for (let jump = 1; jump < 40 + 6 * pace * hours; jump++) {
    p = p.map(
      (own, k) =>
        own * (1 - (up(k) + down(k)) / pace) +
        ((p[k - 1] ?? 0) * up(k - 1)) / pace +
        ((p[k + 1] ?? 0) * down(k + 1)) / pace,
    );
    weight *= (pace * hours) / jump;
    lost += weight * (p[states - 1] ?? 0);
  }
  return lost;
}
interface ChainOf {
  members: number;
  survives: number;
  failed?: number;
  isSerial?: boolean;
}

describe('as printed', () => {
  // Chen et al. 1994, section 3.4: 100 disks of 200,000 h in groups of 16, an hour to repair, last "about 3000 years" (3044 recomputed);
  // the chance of loss in a time is 1 - exp(-time / mean time), as in its Tables 5 and 6.
  test('a group of 16 at level 5 over ten years', () => {
    const groups = 100 / 16;
    const one = chance({ level: '5', members: 16, failed: 0 }, wear(200_000, 1), 10 * 8760);
    const all = 1 - (1 - one) ** groups;
    expect(all / (1 - Math.exp(-10 / 3044))).toBeCloseTo(1, 2);
  });

  // The same, Table 5: a mean time of 285 years is printed as 3.4 % in ten years.
  test('a mean time of 285 years is 3.4 % in ten', () => {
    const one = chance({ level: 'single', members: 1, failed: 0 }, wear(285 * 8760, 1), 10 * 8760);
    expect(one).toBeCloseTo(0.034, 3);
  });

  // Patterson, Gibson, Katz 1988 (from memory, arithmetic confirmed): 100 disks of 30,000 h without redundancy last 300 h.
  test('a hundred disks without redundancy: 300 h', () => {
    expect(chance({ level: '0', members: 100, failed: 0 }, wear(30_000, 1), 300)).toBeCloseTo(1 - 1 / Math.E, 9);
  });

  // The same: level 5 in groups of 10 + 1 and of 25 + 1, an hour to repair: 820,000 h and 346,000 h for 100 data disks.
  test.each([
    [10, 11, 820_000],
    [4, 26, 346_000],
  ])('%i groups of %i at level 5', (groups, members, hours) => {
    expect(1 / (groups * lossesPerHour('5', members, wear(30_000, 1))) / hours).toBeCloseTo(1, 1);
    const one = chance({ level: '5', members, failed: 0 }, wear(30_000, 1), 24);
    expect((one * groups) / (24 / hours)).toBeCloseTo(1, 1);
  });
});

describe('beside a Markov chain', () => {
  test.each([
    ['four striped', { level: '0', members: 4, failed: 0 }, { members: 4, survives: 0 }],
    ['one drive', { level: 'single', members: 1, failed: 0 }, { members: 1, survives: 0 }],
    ['level 5 with one gone', { level: '5', members: 5, failed: 1 }, { members: 4, survives: 0 }],
    ['level 6 with two gone', { level: '6', members: 6, failed: 2 }, { members: 4, survives: 0 }],
    ['a pair with one gone', { level: '1', members: 2, failed: 1 }, { members: 1, survives: 0 }],
    ['two pairs, half of each gone', { level: '10', members: 4, failed: 2 }, { members: 2, survives: 0 }],
  ] as const)('%s: the same', (_, layout, of) => {
    for (const hours of [1, 17, 24, 500]) {
      expect(chance(layout, wear(200_000, 24), hours) / chain(of, 200_000, 24, hours)).toBeCloseTo(1, 9);
    }
  });

  // From whole to lost takes two failures within a repair: in the first hours less than the long-run rate says, which we use.
  test.each([
    ['5', { members: 4, survives: 1 }],
    ['5', { members: 8, survives: 1 }],
    ['1', { members: 2, survives: 1 }],
    ['6', { members: 8, survives: 2, isSerial: true }],
  ] as const)('level %s: never less, and the same in the long run', (level, of) => {
    const layout = { level, members: of.members, failed: 0 };
    for (const hours of [1, 17, 24, 200]) {
      expect(chance(layout, wear(1.2e6, 24), hours)).toBeGreaterThan(chain(of, 1.2e6, 24, hours));
    }
    expect(chance(layout, wear(1.2e6, 24), 5000) / chain(of, 1.2e6, 24, 5000)).toBeCloseTo(1, 1);
  });
});

describe('before the next backup ends', () => {
  const usual = { failsInYear: 0.015, repairHours: 24, otherInYear: 0.01 };
  const stripe: LossLayout = { level: '0', members: 4, failed: 0 };

  test('says what it was reckoned from', () => {
    const loss = lossBeforeBackup(stripe, usual, NOON, NOON + 20 * 3_600_000);
    expect(loss?.hours).toBe(20);
    expect(loss?.wear).toEqual(usual);
    expect(loss?.byDrives).toBeCloseTo(1 - 0.985 ** ((4 * 20) / 8766), 12);
    expect(loss?.byOther).toBeCloseTo(1 - 0.99 ** (20 / 8766), 12);
    expect(loss?.chance).toBeCloseTo(1 - 0.985 ** ((4 * 20) / 8766) * 0.99 ** (20 / 8766), 12);
  });

  test('is not known while nobody knows when it ends, and nothing when it has ended', () => {
    expect(lossBeforeBackup(stripe, usual, NOON, null)).toBeNull();
    expect(lossBeforeBackup(stripe, usual, NOON, NOON - 1)?.chance).toBe(0);
  });

  test.each<[string, LossLayout]>([
    ['a stripe with one gone', { level: '0', members: 4, failed: 1 }],
    ['level 5 with two gone', { level: '5', members: 4, failed: 2 }],
    ['level 6 with three gone', { level: '6', members: 6, failed: 3 }],
    ['both of a pair', { level: '1', members: 2, failed: 2 }],
    ['more than half of all pairs', { level: '10', members: 4, failed: 3 }],
  ])('%s is lost already', (_, layout) => {
    expect(lossBeforeBackup(layout, usual, NOON, NOON + 1000)?.chance).toBe(1);
  });

  test('three pairs with half a pair gone are a drive by itself beside two pairs', () => {
    const whole = chance({ level: '10', members: 4, failed: 0 }, wear(200_000, 24), 24);
    const halved = chance({ level: '10', members: 6, failed: 1 }, wear(200_000, 24), 24);
    const drive = chance({ level: 'single', members: 1, failed: 0 }, wear(200_000, 24), 24);
    expect(halved).toBeCloseTo(1 - (1 - drive) * (1 - whole), 15);
    expect(halved - drive).toBeGreaterThan(0.9 * whole);
    expect(halved - drive).toBeLessThan(whole);
    expect(chance({ level: '6', members: 6, failed: 1 }, wear(200_000, 24), 24)).toBe(
      chance({ level: '5', members: 5, failed: 0 }, wear(200_000, 24), 24),
    );
  });
});
