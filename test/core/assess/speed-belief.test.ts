import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type BelievedRate,
  believedRate,
  type RateEvidence,
  type RateSource,
} from '../../../src/core/assess/speed-belief.ts';

const NOW = 1_804_161_600_000;
const DAY = 86_400_000;
const MB = 1e6;

const seen = (mbps: number, source: RateSource, daysAgo: number | null = 0): RateEvidence => ({
  bps: mbps * MB,
  source,
  at: daysAgo === null ? null : NOW - daysAgo * DAY,
});
function of(...evidence: RateEvidence[]): BelievedRate {
  const believed = believedRate(evidence, NOW);
  if (believed === null) throw new Error('nothing is believed');
  return believed;
}
/** Half the width of the range, in the logarithm, in deviations of 90 %. */
const sdOf = ({ low, high }: BelievedRate) => Math.log(high / low) / 2 / 1.282;

describe('what is believed of a rate', () => {
  test('nothing, of which nothing is known', () => {
    expect(believedRate([], NOW)).toBeNull();
    // Something went on: that it is the most cannot be known.
    expect(believedRate([seen(300, 'reached')], NOW)).toBeNull();
  });

  test('a layout lets expect, within wide limits', () => {
    const { likely, low, high, basis } = of(seen(1000, 'layout', null));
    expect(basis).toBe('layout');
    expect(likely / MB).toBeCloseTo(1000, 6);
    expect(low / MB).toBeCloseTo(1000 * Math.exp(-1.282 * 0.35), 6);
    expect(high / MB).toBeCloseTo(1000 * Math.exp(1.282 * 0.35), 6);
  });

  // Product of two normal densities: the precisions add up, the means are weighted by them (any statistics textbook).
  test('a benchmark moves it almost to itself', () => {
    const { likely, basis } = of(seen(1000, 'layout', null), seen(1500, 'benchmark'));
    const [prior, measured] = [1 / 0.35 ** 2, 1 / 0.08 ** 2];
    expect(Math.log(likely / MB)).toBeCloseTo(
      (prior * Math.log(1000) + measured * Math.log(1500)) / (prior + measured),
      9,
    );
    expect(basis).toBe('measured');
  });

  test('what was declared replaces what the layout lets expect, and is replaced by what was measured', () => {
    expect(of(seen(1000, 'layout', null), seen(1700, 'declared', null)).likely / MB).toBeCloseTo(1700, 6);
    expect(of(seen(1700, 'declared', null), seen(900, 'benchmark')).likely / MB).toBeCloseTo(900, 6);
  });

  test('evidence of every kind narrows it, in any order of telling', () => {
    fc.assert(
      fc.property(
        fc.array(fc.record({ mbps: fc.integer({ min: 400, max: 2500 }), days: fc.integer({ min: 0, max: 90 }) }), {
          minLength: 1,
          maxLength: 6,
        }),
        (peaks) => {
          const all = peaks.map(({ mbps, days }) => seen(mbps, 'saturated', days));
          const one = of(seen(1000, 'layout', null), ...all);
          const other = of(...all.toReversed(), seen(1000, 'layout', null));
          expect(other.likely).toBeCloseTo(one.likely, 0);
          expect(sdOf(one)).toBeLessThan(0.35);
        },
      ),
    );
  });

  test('time widens it by .02 for the root of a day', () => {
    expect(sdOf(of(seen(800, 'benchmark', 0)))).toBeCloseTo(0.08, 9);
    expect(sdOf(of(seen(800, 'benchmark', 100)))).toBeCloseTo(Math.sqrt(0.08 ** 2 + 100 * 0.02 ** 2), 9);
  });
});

describe('what was reached without the drives being busy', () => {
  test('says nothing where it lies far below what is believed', () => {
    const believed = of(seen(1000, 'layout', null), seen(100, 'reached'));
    expect(believed).toMatchObject({ likely: 1000 * MB, basis: 'layout' });
    expect(of(seen(1000, 'declared', null), seen(100, 'reached')).basis).toBe('declared');
  });

  // Numbers by numerical integration of the normal density above the floor, step 1e-4 (own arithmetic, below).
  test.each([700, 1000, 1400, 2500, 5000])('at %i MB/s it is the mean of what is left of the belief', (mbps) => {
    const floor = (Math.log(mbps) - Math.log(1000)) / 0.35;
    let [mass, mean] = [0, 0];
    for (let x = floor; x < floor + 12; x += 1e-4) {
      const density = Math.exp((-x * x) / 2);
      mass += density;
      mean += x * density;
    }
    const { likely, basis } = of(seen(1000, 'layout', null), seen(mbps, 'reached'));
    expect(Math.log(likely / MB / 1000) / 0.35).toBeCloseTo(mean / mass, 2);
    expect(basis).toBe('observed');
  });

  test('a rate that nobody expected is at least what it was', () => {
    const { low, likely } = of(seen(100, 'layout', null), seen(3000, 'reached'));
    expect(likely / MB).toBeGreaterThan(3000);
    expect(low / MB).toBeGreaterThan(2900);
  });
});

// Own simulation behind the deviations: a layout is 26 % off on average, one benchmark 6 %, three busy peaks 8 %.
describe('the deviations are those of the errors that they stand for', () => {
  const error = (sd: number) => Math.sqrt(2 / Math.PI) * sd;
  test('a layout, a benchmark, three peaks', () => {
    const layout = seen(1000, 'layout', null);
    expect(error(sdOf(of(layout)))).toBeCloseTo(0.28, 2);
    expect(error(sdOf(of(layout, seen(1000, 'benchmark'))))).toBeCloseTo(0.06, 2);
    const peaks = [1, 2, 3].map(() => seen(1000, 'saturated'));
    expect(error(sdOf(of(layout, ...peaks)))).toBeCloseTo(0.08, 2);
  });
});
