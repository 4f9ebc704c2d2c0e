import { describe, expect, test } from 'vitest';
import { takeIncomplete } from '../../../../src/core/advise/rules/take-incomplete.ts';
import type { LackingTake } from '../../../../src/core/assess/assessment.ts';
import { makeClip } from '../../../../src/core/intake/clip.ts';
import { groupUnit } from '../../../../src/core/intake/group.ts';
import { isLacking } from '../../../../src/core/intake/lacking.ts';
import type { ProjectSum } from '../../../../src/core/store-ports.ts';
import { record } from '../../intake/take-files.ts';
import { NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 0, clearAfter: 0 };

const take = (name: string, more: Partial<LackingTake> = {}): LackingTake => {
  return { name, missingFrames: [], missingParts: [], missingNames: [], ...more };
};

function evaluate(lacking: LackingTake[], sum: Partial<ProjectSum> = {}, state: 'live' | 'absent' = 'live') {
  const projects = [{ ...NOTHING_MADE, sum: sampleSum(sum), multicam: [], lacking }];
  return takeIncomplete.evaluate(sampleAssessment({ volumes: [sampleVolume({ state })], projects }), THRESHOLDS);
}

describe('a take that lacks a part', () => {
  test('is named with what is missing, in a notice with what to do', () => {
    const { findings } = evaluate([take('GX010042.MP4', { missingParts: [{ first: 2, last: 2 }] })]);
    expect(findings).toEqual([
      {
        kind: 'take-incomplete',
        subject: 'stripe/Tidewater Sessions',
        severity: 'notice',
        message: '1 take of Tidewater Sessions on stripe is not complete: GX010042.MP4 (parts missing: 2).',
        figures: { takes: 1 },
        remedies: [
          {
            action: 'Copy what is missing again from its card, and keep the card',
            effect: 'the take is then whole; if it was left out on purpose there is nothing to do',
          },
        ],
      },
    ]);
  });

  test('several of one project are one notice, the first five by name, with nothing in it that a terminal obeys', () => {
    const frames = take('a\u001b[2J.dpx', { missingFrames: [{ first: 7, last: 9 }] });
    const named = take('0001AB.MXF', { missingNames: ['id\u001b-3'], missingParts: [{ first: 1, last: 1 }] });
    const others = Array.from({ length: 6 }, (_, at) => take(`t${at}`, { missingNames: ['x'] }));
    const [finding] = evaluate([frames, named, ...others]).findings;
    expect(finding?.message).toBe(
      '8 takes of Tidewater Sessions on stripe are not complete: a\\x1b[2J.dpx (frames missing: 7-9), ' +
        '0001AB.MXF (parts missing: 1, id\\x1b-3), t0 (parts missing: x), t1 (parts missing: x), t2 (parts missing: x) and 3 more.',
    );
  });

  // Frames 1 to 24 without 7 to 9: what is missing is plain from the numbers.
  test('a frame sequence with a hole is one, from its files on', () => {
    const numbers = Array.from({ length: 24 }, (_, at) => at + 1).filter((number) => number < 7 || number > 9);
    const frames = numbers.map((number) => record(`Saltmarsh/scan/scan_${String(number).padStart(4, '0')}.dpx`));
    const [grouped] = groupUnit(frames).clips;
    if (grouped === undefined) throw new Error('frames are one clip');
    const clip = makeClip(grouped, null, { at: 0, evidence: 'quiet-only' });
    expect(isLacking(clip)).toBe(true);
    const [finding] = evaluate([clip], { project: 'Saltmarsh' }).findings;
    expect(finding?.message).toBe(
      '1 take of Saltmarsh on stripe is not complete: scan_[0001-0024].dpx (frames missing: 7-9).',
    );
  });

  test('outside projects it is told by the area; in the trash nobody waits for it', () => {
    const lacking = [take('a.mov', { missingParts: [{ first: 1, last: 1 }] })];
    const [finding] = evaluate(lacking, { area: 'shared', project: null }).findings;
    expect([finding?.subject, finding?.message]).toEqual([
      'stripe/shared',
      '1 take outside projects on stripe is not complete: a.mov (parts missing: 1).',
    ]);
    expect(evaluate(lacking, { area: 'trash', project: null }).findings).toEqual([]);
  });

  test('is no news where there is none, and stands as it was while the volume is away', () => {
    expect(evaluate([]).findings).toEqual([]);
    expect(evaluate([]).holds('stripe/Tidewater Sessions')).toBeNull();
    const away = evaluate([take('a.mov', { missingNames: ['x'] })], {}, 'absent');
    expect(away.findings).toEqual([]);
    expect(away.holds('stripe/Tidewater Sessions')).toBe('root-not-live');
    expect(away.holds('shelf-a/Tidewater Sessions')).toBeNull();
  });
});
