import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { needBps, withMoreStreams } from '../../../src/core/assess/playback-need.ts';
import { assessSpeed, type PlaybackDemand, readBudget } from '../../../src/core/assess/speed-budget.ts';
import { groupLoad } from '../../../src/core/assess/stream-load.ts';
import { sampleGives } from '../samples.ts';

const GIVES = { ...sampleGives(600e6), write: { ...sampleGives(500e6).write } };
const demandOf = (streams: number, largestBps: number): PlaybackDemand => ({
  playback: { streams, meanBps: streams * largestBps, spreadBps: 0, largestBps },
  from: `playing ${streams} angles at once`,
});

describe('speed budget', () => {
  test('takes the reserve off once, counts everything that is read at once, and whole streams', () => {
    expect(assessSpeed(GIVES, 0.3, demandOf(3, 50e6), { readBps: 10e6, writeBps: 50e6 })).toEqual({
      readBudgetBps: 420e6,
      writeBudgetBps: 350e6,
      basis: 'declared',
      range: { readLowBps: 420e6, readHighBps: 420e6, writeLowBps: 350e6, writeHighBps: 350e6 },
      gives: GIVES,
      reserveShare: 0.3,
      ambient: { readBps: 10e6, writeBps: 50e6 },
      // Three angles, one more in a transition, a tenth for scrubbing; 50 MB/s of writing take 60 of reading away.
      demandBps: 285e6,
      demandParts: { anglesBps: 150e6, spreadBps: 0, transitionBps: 50e6, scrubBps: 15e6, ambientBps: 70e6 },
      demandFrom: 'playing 3 angles at once',
      streams: 3,
      headroom: 135 / 420,
      anglesLeft: 2,
    });
  });

  test('an overrun has negative headroom and no angle left', () => {
    const speed = assessSpeed(GIVES, 0.3, demandOf(4, 100e6), null);
    expect(speed.headroom).toBeCloseTo((420 - 540) / 420, 12);
    expect(speed.anglesLeft).toBe(0);
  });

  test('of a volume of which nothing is known nothing is claimed', () => {
    expect(assessSpeed(null, 0.3, demandOf(1, 100e6), null)).toMatchObject({
      readBudgetBps: null,
      writeBudgetBps: null,
      basis: null,
      range: null,
      reserveShare: 0.3,
      demandBps: 210e6,
      headroom: null,
      anglesLeft: null,
    });
    expect(assessSpeed(null, 0, demandOf(1, 1e6), { readBps: 1, writeBps: 2 }).demandParts?.ambientBps).toBe(3);
  });

  test('without a demand there is a budget and nothing else', () => {
    expect(assessSpeed(GIVES, 0.3, null, null)).toMatchObject({
      readBudgetBps: 420e6,
      demandBps: null,
      demandParts: null,
      demandFrom: null,
      headroom: null,
      anglesLeft: null,
    });
  });

  test('streams of no rate cannot be counted', () => {
    expect(assessSpeed(GIVES, 0.3, demandOf(1, 0), null)).toMatchObject({ demandBps: 0, anglesLeft: null });
    expect(assessSpeed(GIVES, 1, demandOf(1, 1), null)).toMatchObject({ headroom: null, anglesLeft: 0 });
  });

  test('rotating drives give less to many streams, so fewer angles are left', () => {
    const flash = assessSpeed(sampleGives(600e6, { drive: 'ssd' }), 0.3, demandOf(2, 20e6), null);
    const turning = assessSpeed(sampleGives(600e6, { drive: 'hdd' }), 0.3, demandOf(2, 20e6), null);
    expect(turning.readBudgetBps).toBeLessThan((flash.readBudgetBps ?? 0) / 1.5);
    expect(turning.anglesLeft).toBeLessThan((flash.anglesLeft ?? 0) / 1.5);
  });

  test('the angles that are left fit, and one more does not, by the same formula', () => {
    const rate = fc.integer({ min: 1, max: 2e9 });
    const drive = fc.constantFrom('hdd', 'ssd', null);
    fc.assert(
      fc.property(rate, rate, fc.integer({ min: 1, max: 9 }), rate, drive, (bps, largest, streams, writeBps, drive) => {
        const gives = sampleGives(bps, { drive });
        const { playback, from } = demandOf(streams, largest);
        const spread = { ...playback, spreadBps: playback.meanBps / 10 };
        const ambient = { readBps: 0, writeBps };
        const left = assessSpeed(gives, 0.25, { playback: spread, from }, ambient).anglesLeft ?? Number.NaN;
        const fits = (more: number) => {
          const grown = withMoreStreams(spread, more);
          return needBps(grown, writeBps) <= readBudget(gives, 0.25, grown.streams);
        };
        if (left > 0) expect(fits(left)).toBe(true);
        if (left < 999) expect(fits(left + 1)).toBe(false);
      }),
    );
  });
});

test('more streams spread as the load of a group of them does', () => {
  const group = (streams: number) => groupLoad(Array.from({ length: streams }, () => ({ meanBps: 100e6, sdBps: 8e6 })));
  const playback = { streams: 3, meanBps: 300e6, spreadBps: group(3) - 300e6, largestBps: 100e6 };
  const { meanBps, spreadBps } = withMoreStreams(playback, 2);
  expect(meanBps + spreadBps).toBeCloseTo(group(5), 3);
});
