import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { assessSpeed } from '../../../src/core/assess/speed-budget.ts';

const DECLARED = { readBps: 600e6, writeBps: 500e6 };
const demandOf = (bps: number, largestBps = bps) => ({
  bps,
  largestBps,
  from: 'playing A001.mov, the heaviest of the newest clips,',
});

describe('speed budget', () => {
  test('takes the reserve off once and counts whole streams', () => {
    expect(assessSpeed(DECLARED, 0.3, demandOf(300e6, 50e6))).toEqual({
      readBudgetBps: 420e6,
      writeBudgetBps: 350e6,
      basis: 'declared',
      reserveShare: 0.3,
      demandBps: 300e6,
      demandFrom: 'playing A001.mov, the heaviest of the newest clips,',
      headroom: 120 / 420,
      anglesLeft: 2,
    });
  });

  test('an overrun has negative headroom and no angle left', () => {
    const speed = assessSpeed(DECLARED, 0.3, demandOf(525e6, 100e6));
    expect(speed.headroom).toBeCloseTo(-0.25, 12);
    expect(speed.anglesLeft).toBe(0);
  });

  test('without a declared speed nothing is claimed', () => {
    expect(assessSpeed(null, 0.3, demandOf(300e6))).toMatchObject({
      readBudgetBps: null,
      writeBudgetBps: null,
      basis: null,
      reserveShare: 0.3,
      demandBps: 300e6,
      headroom: null,
      anglesLeft: null,
    });
  });

  test('without a demand there is a budget and nothing else', () => {
    const speed = assessSpeed(DECLARED, 0.3, null);
    expect(speed).toMatchObject({
      readBudgetBps: 420e6,
      demandBps: null,
      demandFrom: null,
      headroom: null,
      anglesLeft: null,
    });
  });

  test('a volume declared to give nothing has no headroom to state', () => {
    expect(assessSpeed({ readBps: 0, writeBps: 0 }, 0.3, demandOf(1))).toMatchObject({ headroom: null, anglesLeft: 0 });
  });

  test('streams of no rate cannot be counted', () => {
    expect(assessSpeed(DECLARED, 0.3, demandOf(300e6, 0)).anglesLeft).toBeNull();
  });

  test('the angles that are left fit, and one more does not', () => {
    const rate = fc.integer({ min: 1, max: 2e9 });
    fc.assert(
      fc.property(rate, rate, rate, (readBps, bps, largestBps) => {
        const { anglesLeft, readBudgetBps } = assessSpeed({ readBps, writeBps: 0 }, 0.25, demandOf(bps, largestBps));
        const left = anglesLeft ?? Number.NaN;
        if (left > 0) expect(bps + left * largestBps).toBeLessThanOrEqual((readBudgetBps ?? 0) * (1 + 1e-12));
        expect(bps + (left + 1) * largestBps).toBeGreaterThan((readBudgetBps ?? 0) * (1 - 1e-12));
      }),
    );
  });
});
