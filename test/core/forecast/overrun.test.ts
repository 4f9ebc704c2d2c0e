import fc from 'fast-check';
import { mean, sampleVariance } from 'simple-statistics';
import { describe, expect, test } from 'vitest';
import { drawBeta } from '../../../src/core/forecast/draws.ts';
import { type GrowthHour, growthDays } from '../../../src/core/forecast/growth.ts';
import { type ForecastInput, forecastOverrun } from '../../../src/core/forecast/overrun.ts';
import { drawPath } from '../../../src/core/forecast/paths.ts';
import { fitShoots } from '../../../src/core/forecast/shoot-model.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';

const TB = 1e12;
const NOW = 500_000;

/** The newest day first; all of it within one hour of each. */
function history(days: readonly number[], other = 0, hourAgo = 6): GrowthHour[] {
  return days.map((bytes, day) => ({ hour: NOW - 24 * day - hourAgo, ingestBytes: bytes, otherBytes: other }));
}
const input = (days: readonly number[], over: Partial<ForecastInput> = {}): ForecastInput => ({
  ...{
    hours: history(days),
    nowHour: NOW,
    capacityBytes: 24 * TB,
    roomBytes: [6 * TB],
    plan: null,
    draws: seededDraws(0.5),
  },
  ...over,
});
const of = (asked: ForecastInput) => forecastOverrun(asked).crossings?.[0];
const EVERY_DAY = new Array<number>(60).fill(0.5 * TB);

describe('the day of the overrun', () => {
  test('of the same amount on every day is the one that a division gives', () => {
    const { crossings, basis, shootDays } = forecastOverrun(input(EVERY_DAY));
    const crossing = crossings?.[0];
    expect([basis, shootDays]).toEqual(['shoot-days-seen', 60]);
    // 6 TB at .5 TB a day: 12 days. That it goes on like this is not certain, so the range is not nothing.
    expect(crossing?.at50).toBeGreaterThan(11);
    expect(crossing?.at50).toBeLessThan(14);
    expect(crossing?.at10).toBeGreaterThan(9);
    expect(crossing?.at90).toBeGreaterThan(12);
    expect(crossing?.within7d).toBeLessThan(0.05);
  });

  test('a line that is crossed is crossed now', () => {
    expect(forecastOverrun(input(EVERY_DAY, { roomBytes: [0] })).crossings?.[0]).toEqual({
      ...{ at10: 0, at50: 0, at90: 0, within24h: 1, within72h: 1, within7d: 1 },
    });
  });

  test('is not told from two shoot days, and is an early estimate from eight', () => {
    expect(forecastOverrun(input([1 * TB, 1 * TB]))).toMatchObject({ basis: 'not-enough-history', crossings: null });
    expect(forecastOverrun(input([]))).toMatchObject({ basis: 'not-enough-history', shootDays: 0 });
    expect(forecastOverrun(input(EVERY_DAY.slice(0, 8))).basis).toBe('early-estimate');
    expect(forecastOverrun(input(EVERY_DAY.slice(0, 9))).basis).toBe('shoot-days-seen');
  });

  test('on a plateau is later, and never "never"', () => {
    const quiet = [...new Array<number>(40).fill(0), ...EVERY_DAY.slice(0, 20)];
    const crossing = of(input(quiet, { roomBytes: [1 * TB] }));
    expect(crossing?.at10).not.toBeNull();
    expect(crossing?.within7d).toBeGreaterThan(0);
    expect(crossing?.at10 ?? 0).toBeGreaterThan(
      forecastOverrun(input(EVERY_DAY, { roomBytes: [1 * TB] })).crossings?.[0]?.at10 ?? 0,
    );
  });

  test('a session that is under way will bring what is missing to a day', () => {
    const morning = [{ hour: NOW - 1, ingestBytes: 0.1 * TB, otherBytes: 0 }];
    const before = history(EVERY_DAY.slice(0, 20), 0, 30);
    const goes = forecastOverrun(input([], { hours: [...morning, ...before], roomBytes: [0.2 * TB] }));
    const over = forecastOverrun(input([], { hours: before, roomBytes: [0.3 * TB] }));
    expect(goes.crossings?.[0]?.within24h).toBeGreaterThan(over.crossings?.[0]?.within24h ?? 1);
  });

  test('with a plan is what the plan says, and comes again with the same seed', () => {
    const days = new Map([3, 4, 5, 6].map((day) => [day, 2 * TB]));
    const plan = { days, ratios: [], kept: 0, missed: 0 };
    const planned = forecastOverrun(input([], { plan }));
    expect(planned).toMatchObject({ basis: 'early-estimate', shootDays: 0 });
    // 6 TB are there at the end of the third of four days of 2 TB, the first of which begins in three days.
    expect(planned.crossings?.[0]?.at50).toBeGreaterThan(4.5);
    expect(planned.crossings?.[0]?.at50).toBeLessThan(7);
    expect(forecastOverrun(input([], { plan }))).toEqual(planned);
    expect(forecastOverrun(input([], { plan, draws: seededDraws(0.25) }))).not.toEqual(planned);
  });

  test('with a plan for next month goes on as it went lately until the week before', () => {
    const days = new Map([30, 31].map((day) => [day, 2 * TB]));
    const plan = { days, ratios: [], kept: 0, missed: 0 };
    const [plain, planned] = [null, plan].map((one) => of(input(EVERY_DAY, { plan: one }))?.at50 ?? Number.NaN);
    expect(planned).toBeCloseTo(plain ?? 0, -0.5);
  });

  test('cards of today count beside a plan that begins tomorrow', () => {
    const hours = [{ hour: NOW - 1, ingestBytes: 0.1 * TB, otherBytes: 0 }, ...history(EVERY_DAY.slice(0, 20), 0, 30)];
    const plan = (day: number) => ({ days: new Map([[day, 0.01 * TB]]), ratios: [], kept: 0, missed: 0 });
    const chance = (day: number) => of(input([], { hours, roomBytes: [0.2 * TB], plan: plan(day) }))?.within24h ?? 0;
    expect(chance(1)).toBeGreaterThan(0.4);
    // What is planned for today is all that today brings.
    expect(chance(0)).toBeLessThan(0.2);
  });

  test('more room never brings it nearer', () => {
    const size = fc.integer({ min: 0, max: 2000 }).map((gigabytes) => gigabytes * 1e9);
    fc.assert(
      fc.property(fc.array(size, { minLength: 5, maxLength: 60 }), size, size, (days, room, more) => {
        const [near, far] = [room, room + more].map(
          (roomBytes) => forecastOverrun(input(days, { roomBytes: [roomBytes] })).crossings?.[0],
        );
        const order = (one: number | null | undefined) => one ?? Number.POSITIVE_INFINITY;
        for (const key of ['at10', 'at50', 'at90'] as const)
          expect(order(far?.[key])).toBeGreaterThanOrEqual(order(near?.[key]));
        for (const key of ['within24h', 'within72h', 'within7d'] as const) {
          expect(far?.[key] ?? 0).toBeLessThanOrEqual(near?.[key] ?? 0);
        }
      }),
      { numRuns: 60 },
    );
  });

  test('what is purged once does not make room for ever', () => {
    // 30 days of .5 TB each, and caches of .4 TB that went 50 days ago.
    const hours = history([...EVERY_DAY.slice(0, 30), ...new Array<number>(25).fill(0)]);
    hours[50] = { hour: NOW - 24 * 50 - 6, ingestBytes: 0, otherBytes: -0.4 * TB };
    const purged = forecastOverrun(input([], { hours })).crossings?.[0]?.at50 ?? Number.NaN;
    const without = forecastOverrun(input([], { hours: hours.filter(({ otherBytes }) => otherBytes === 0) }))
      .crossings?.[0]?.at50;
    expect(Math.abs(purged - (without ?? Number.NaN))).toBeLessThan(1);
  });
});

describe('days of 24 hours back from now', () => {
  test('have what came in their hours, whatever clocks say', () => {
    const hours = [0, 23, 24, 47, 48].map((ago) => ({
      hour: NOW - ago,
      ingestBytes: 10 ** (ago % 7),
      otherBytes: ago,
    }));
    expect(growthDays(hours, NOW)).toEqual({ ingest: [1 + 1e2, 1e3 + 1e5, 1e6], other: [23, 71, 48] });
    expect(growthDays([], NOW)).toEqual({ ingest: [0], other: [0] });
  });

  test('no more than 120, and nothing of what has not happened yet', () => {
    const far = [
      { hour: NOW - 24 * 500, ingestBytes: 1, otherBytes: 0 },
      { hour: NOW + 5, ingestBytes: 7, otherBytes: 0 },
    ];
    const { ingest } = growthDays(far, NOW);
    expect([ingest.length, ingest.reduce((sum, bytes) => sum + bytes, 0)]).toEqual([120, 0]);
  });
});

describe('what is drawn', () => {
  const many = <Value>(draw: () => Value, times = 20_000) => Array.from({ length: times }, draw);

  // What is handed in (d3-random), beside the moments of the distributions (NIST/SEMATECH e-Handbook 1.3.6.6.11 and .17).
  test('Beta and Gamma have the moments of their definitions', () => {
    const draws = seededDraws(0.3);
    const beta = many(() => drawBeta(draws, { a: 1.5, b: 4.5 }));
    expect(mean(beta)).toBeCloseTo(0.25, 2);
    expect(sampleVariance(beta)).toBeCloseTo((1.5 * 4.5) / (36 * 7), 2);
    const gamma = many(() => draws.gamma(3) / 4);
    expect(mean(gamma)).toBeCloseTo(0.75, 1);
    expect(sampleVariance(gamma)).toBeCloseTo(3 / 16, 1);
  });

  /*
   * Wald: the sum of N sizes X has the mean E[N] E[X] and the variance E[N] Var[X] + Var[N] E[X]^2. With the chance of a day, the size and
   * its spread all but certain, the days of 40 are independent: N is binomial.
   */
  test('the sum over days has the moments of a compound process', () => {
    const certain = 1e9;
    const [mu, sd, chance, days] = [Math.log(1e11), 0.5, 0.4, 40];
    const model = {
      ...{ stays: { a: chance * certain, b: (1 - chance) * certain } },
      ...{ begins: { shape: -Math.log(1 - chance) * certain, rate: certain }, weekday: new Array<number>(7).fill(1) },
      ...{ size: { mean: mu, kappa: certain, nu: certain, variance: sd ** 2 }, largestBytes: Number.POSITIVE_INFINITY },
      ...{ activeDays: 9, days: 99, isActive: false, other: [0] },
    };
    const draws = seededDraws(0.7);
    const sums = many(
      () => drawPath({ model, session: null, plan: null, days, draws }).reduce((sum, one) => sum + one, 0),
      4000,
    );
    const [meanX, meanXX] = [Math.exp(mu + sd ** 2 / 2), Math.exp(2 * mu + 2 * sd ** 2)];
    const expected = days * chance * meanX;
    const variance = days * chance * (meanXX - meanX ** 2) + days * chance * (1 - chance) * meanX ** 2;
    expect(mean(sums) / expected).toBeCloseTo(1, 1.5);
    expect(sampleVariance(sums) / variance).toBeCloseTo(1, 0.7);
  });

  /*
   * First passage of a level by a sum with drift mu and variance s2 a day (Brownian motion: inverse Gaussian of mean a / mu and variance
   * a s2 / mu^3; Wald 1944, Johnson, Kotz, Balakrishnan 1, 15). With some .4 TB every day and a level far away the days are near that.
   */
  test('the day of crossing has the moments of a first passage', () => {
    const certain = 1e9;
    const [mu, sd] = [Math.log(4e11), 0.4];
    const model = {
      ...{ stays: { a: certain, b: 1 }, begins: { shape: certain, rate: 1 }, weekday: new Array<number>(7).fill(1) },
      ...{ size: { mean: mu, kappa: certain, nu: certain, variance: sd ** 2 }, largestBytes: Number.POSITIVE_INFINITY },
      ...{ activeDays: 9, days: 99, isActive: true, other: [0] },
    };
    const draws = seededDraws(0.2);
    const level = 10e12;
    const times = many(() => {
      let left = level;
      for (const [day, bytes] of drawPath({ model, session: null, plan: null, days: 60, draws }).entries()) {
        if (bytes >= left) return day + left / bytes;
        left -= bytes;
      }
      return Number.NaN;
    }, 3000);
    const drift = Math.exp(mu + sd ** 2 / 2);
    const variance = (Math.exp(sd ** 2) - 1) * drift ** 2;
    expect(mean(times) / (level / drift)).toBeCloseTo(1, 1.5);
    expect(sampleVariance(times) / ((level * variance) / drift ** 3)).toBeCloseTo(1, 0.7);
  });

  test('a day half as long ago counts half as much after forty days', () => {
    const days = (size: number) =>
      fitShoots({ ingest: [TB, ...new Array<number>(39).fill(0), size], other: [0] }, 24 * TB);
    const { size } = days(4 * TB);
    // By hand: weights 1 and .5 beside a prior of 1 at 3 % of 24 TB.
    const wanted = (Math.log(TB) + 0.5 * Math.log(4 * TB) + Math.log(0.72 * TB)) / 2.5;
    expect(size.mean).toBeCloseTo(wanted, 9);
  });
});
