import { expect, test } from 'vitest';
import { takeDiffers } from '../../../../src/core/advise/rules/take-differs.ts';
import type { DifferingTake } from '../../../../src/core/assess/assessment.ts';
import { NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 0, clearAfter: 0 };
const take = (by: DifferingTake['by'], name = 'A001C002.mov', second = 4e9): DifferingTake => ({
  ...{ name, by },
  places: [
    { path: `Tidewater Sessions/Card 1/${name}`, bytes: 4e9 },
    { path: `Tidewater Sessions/Card 2/${name}`, bytes: second },
  ],
});

function evaluate(differing: DifferingTake[], state: 'live' | 'absent' = 'live') {
  const projects = [{ ...NOTHING_MADE, sum: sampleSum(), multicam: [], differing }];
  return takeDiffers.evaluate(sampleAssessment({ volumes: [sampleVolume({ state })], projects }), THRESHOLDS);
}

test('one of another size is a notice, with both places and sizes to the byte', () => {
  const [finding] = evaluate([take('size', undefined, 3_999_999_999)]).findings;
  expect(finding).toMatchObject({ subject: 'stripe/Tidewater Sessions', severity: 'notice' });
  expect(finding?.message).toBe(
    '1 take lies twice in Tidewater Sessions on stripe, by name, timecode and length, and the two are not the same: A001C002.mov as Tidewater Sessions/Card 1/A001C002.mov (4.00 GB, 4000000000 bytes) and Tidewater Sessions/Card 2/A001C002.mov (4.00 GB, 3999999999 bytes). Keep both, and the cards, until you know which is right.',
  );
  expect(finding?.remedies[0]?.effect).toBe('8.00 GB are concerned; neither counts as a copy of the other');
});

test('one size with different content is a warning, and told first', () => {
  const [finding] = evaluate([take('size'), take('content', 'B001.mov')]).findings;
  expect(finding).toMatchObject({ severity: 'warning', figures: { takes: 2, otherContent: 1 } });
  expect(finding?.message).toContain('2 takes lie twice in Tidewater Sessions on stripe');
  expect(finding?.message).toContain(
    'first B001.mov as Tidewater Sessions/Card 1/B001.mov and Tidewater Sessions/Card 2/B001.mov, of 4.00 GB each, with different content.',
  );
});

test('is over when none is left, and stands while the volume is away', () => {
  expect([evaluate([]).findings, evaluate([]).holds('stripe/Tidewater Sessions')]).toEqual([[], null]);
  expect(evaluate([take('size')], 'absent').holds('stripe/Tidewater Sessions')).toBe('root-not-live');
});
