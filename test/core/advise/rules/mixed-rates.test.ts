import { expect, test } from 'vitest';
import { mixedRates } from '../../../../src/core/advise/rules/mixed-rates.ts';
import type { MulticamGroup } from '../../../../src/core/assess/assessment.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleGroup, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 0, clearAfter: 0 };
const P25 = { num: 25, den: 1 };
const P50 = { num: 50, den: 1 };
const mixed = (over: Partial<MulticamGroup> = {}) =>
  sampleGroup({
    frameRates: [P50, P25],
    cameraRates: [
      { camera: 'A', frameRate: P25 },
      { camera: 'B', frameRate: P25 },
      { camera: 'C', frameRate: P50 },
    ],
    ...over,
  });

function evaluate(multicam: MulticamGroup[], state: 'live' | 'absent' = 'live') {
  const projects = [{ ...NOTHING_MADE, sum: sampleSum(), multicam }];
  return mixedRates.evaluate(sampleAssessment({ volumes: [sampleVolume({ state })], projects }), THRESHOLDS);
}

test('which camera runs at which rate is told, of the newest group, in one notice for the project', () => {
  const older = mixed({ startsAt: NOON - 3_600_000 });
  const [finding, ...more] = evaluate([mixed(), older, sampleGroup()]).findings;
  expect(more).toEqual([]);
  expect(finding).toMatchObject({ subject: 'stripe/Tidewater Sessions', severity: 'notice', figures: { groups: 2 } });
  expect(finding?.message).toBe(
    'Tidewater Sessions on stripe: in 2 of 3 multicam groups cameras run at different frame rates, the last on 2027-03-04 12:00: A and B at 25 fps, C at 50 fps. Played together, pictures of one are left out or shown twice.',
  );
  expect(finding?.remedies[0]?.effect).toBe('one rate instead of 2 (25 and 50 fps)');
});

test('rates that are nearly one drift: 24 and 24000/1001 by a thousandth, which is 3.6 s in an hour (SMPTE ST 2036-1 rates)', () => {
  const frameRates = [
    { num: 24, den: 1 },
    { num: 24_000, den: 1001 },
  ];
  const cameraRates = frameRates.map((frameRate, at) => ({ camera: 'AB'[at] ?? '', frameRate }));
  const [finding] = evaluate([mixed({ frameRates, cameraRates, startsAt: null })]).findings;
  expect(finding?.message).toContain(
    'B at 23.976 fps, A at 24 fps. Taken for one rate they drift apart by 3.6 s in an hour.',
  );
});

test('what a phone measures of its own rate is one rate; guessed angles are none', () => {
  const phone = { num: 24_995, den: 1000 };
  expect(evaluate([mixed({ frameRates: [P25, phone], cameraRates: [] })]).findings).toEqual([]);
  expect(evaluate([mixed({ confidence: 0.59 })]).findings).toEqual([]);
});

test('is over when no group is mixed, and stands while the volume is away', () => {
  expect([evaluate([sampleGroup()]).findings, evaluate([]).holds('stripe/Tidewater Sessions')]).toEqual([[], null]);
  expect(evaluate([mixed()], 'absent').holds('stripe/Tidewater Sessions')).toBe('root-not-live');
});
