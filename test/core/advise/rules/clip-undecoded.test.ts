import { expect, test } from 'vitest';
import { clipUndecoded } from '../../../../src/core/advise/rules/clip-undecoded.ts';
import type { UndecodedClip } from '../../../../src/core/assess/assessment.ts';
import type { ProjectSum } from '../../../../src/core/store-ports.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 0, clearAfter: 0 };
const DAY = 86_400_000;
const clip = (name: string, more: Partial<UndecodedClip> = {}): UndecodedClip => ({
  ...{ name, bytes: 4e9, troubles: ['no picture and no sound was found in it'], readyAt: NOON },
  ...more,
});

function evaluate(undecoded: UndecodedClip[], sum: Partial<ProjectSum> = {}, state: 'live' | 'absent' = 'live') {
  const projects = [{ ...NOTHING_MADE, sum: sampleSum(sum), multicam: [], undecoded }];
  return clipUndecoded.evaluate(sampleAssessment({ volumes: [sampleVolume({ state })], projects }), THRESHOLDS);
}

test('clips that cannot be read are one notice for each project, with the reason of the first', () => {
  const [finding] = evaluate([clip('A001.mov'), clip('A002.mov', { readyAt: NOON - DAY })]).findings;
  expect(finding).toEqual({
    kind: 'clip-undecoded',
    subject: 'stripe/Tidewater Sessions',
    severity: 'notice',
    message:
      '2 clips of Tidewater Sessions on stripe cannot be read here (8.00 GB, the newest of 2027-03-04): A001.mov (no picture and no sound was found in it), A002.mov. Only their bytes are known, not how long they are and what playing them needs.',
    figures: { clips: 2, bytes: 8e9, newestAt: NOON },
    remedies: [
      {
        action: 'Try whether they play. Copy one that does not again from its card, and keep the card',
        effect: '8.00 GB then count with length and speed; in a format that only your programs read nothing is wrong',
      },
    ],
  });
});

test('many are counted, and their names are harmless', () => {
  const many = Array.from({ length: 412 }, (_, at) => clip(`a${at}\u001b[2J.mov`, { troubles: [] }));
  const [finding] = evaluate(many, { area: 'shared', project: null }).findings;
  expect(finding?.subject).toBe('stripe/shared');
  expect(finding?.message).toMatch(/^412 clips outside projects on stripe cannot be read here \(1\.65 TB,/);
  expect(finding?.message).toContain('a0\\x1b[2J.mov, a1\\x1b[2J.mov, ');
  expect(finding?.message).toContain(' and 407 more.');
});

test('is over when none is left, and stands while the volume is away', () => {
  expect([evaluate([]).findings, evaluate([]).holds('stripe/Tidewater Sessions')]).toEqual([[], null]);
  const away = evaluate([clip('A001.mov')], {}, 'absent');
  expect([away.findings, away.holds('stripe/Tidewater Sessions')]).toEqual([[], 'root-not-live']);
});
