import { describe, expect, test } from 'vitest';
import { arrivalRefused, arrivalStalled } from '../../../../src/core/advise/rules/arrivals.ts';
import type { Arrival, UnitStage } from '../../../../src/core/model.ts';
import { sampleArrival, sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const STALLED = sampleArrival({
  stage: 'stalled',
  reason: 'incomplete',
  detail: '900 of at least 1,200 bytes are there',
});
const REFUSED = sampleArrival({ path: 'Saltmarsh/notes.mov', stage: 'refused', reason: 'not-media', detail: null });

function evaluate(rule: typeof arrivalStalled, arrivals: Arrival[]) {
  return rule.evaluate(sampleAssessment({ arrivals }), THRESHOLDS);
}

describe('arrivals that need a person', () => {
  test('a stalled one: which file, how far it came, why, and what to do', () => {
    expect(evaluate(arrivalStalled, [STALLED, REFUSED, sampleArrival()]).findings).toEqual([
      {
        kind: 'arrival-stalled',
        subject: 'stripe/Tidewater Sessions/A002.mov',
        severity: 'warning',
        message:
          'Tidewater Sessions/A002.mov on stripe has stopped at 1.24 GB: its own structure says that bytes are missing (900 of at least 1,200 bytes are there).',
        figures: { bytes: 1.24e9, reason: 'incomplete', detail: '900 of at least 1,200 bytes are there' },
        remedies: [
          {
            action: 'Copy it again from its source, and keep the card',
            effect: '1.24 GB of it are here; it is judged anew as soon as it changes',
          },
        ],
      },
    ]);
  });

  test('a refused one', () => {
    const { findings } = evaluate(arrivalRefused, [STALLED, REFUSED]);
    expect(findings).toHaveLength(1);
    expect(findings[0]).toMatchObject({
      kind: 'arrival-refused',
      subject: 'stripe/Saltmarsh/notes.mov',
      severity: 'warning',
    });
    expect(findings[0]?.message).toMatch(/ was refused: its name says media, its content does not\.$/);
    expect(findings[0]?.remedies[0]?.action).toMatch(/^Look what it is\. .* copy it again .*, and keep the card$/);
    const [growing] = evaluate(arrivalStalled, [{ ...STALLED, reason: 'growing' }]).findings;
    expect(growing?.remedies[0]?.action).toMatch(/^Look whether its copy still goes on\. .* and keep the card$/);
  });

  test('hostile names and details are harmless', () => {
    const hostile = { ...STALLED, path: 'P/\u001b]0;x\u0007\n.mov', detail: '\u202Egpj' };
    expect(evaluate(arrivalStalled, [hostile]).findings[0]?.message).toMatch(
      /^P\/\\x1b\]0;x\\x07\\n\.mov on .*\(\\u\{202e\}gpj\)/,
    );
  });

  test.each<[UnitStage, string | null]>([
    ['settling', 'judged-again'],
    ['probing', 'judged-again'],
    ['copying', null],
    ['ready', null],
  ])('what was said stands while it is looked at again: %s', (stage, expected) => {
    const { findings, holds } = evaluate(arrivalStalled, [{ ...STALLED, stage }]);
    expect(findings).toEqual([]);
    expect(holds('stripe/Tidewater Sessions/A002.mov')).toBe(expected);
  });

  test('and while its root is away, but not when the root or the file is gone for good', () => {
    const volumes = [sampleVolume({ state: 'absent' })];
    const { holds } = arrivalStalled.evaluate(sampleAssessment({ volumes }), THRESHOLDS);
    expect(holds('stripe/Tidewater Sessions/A002.mov')).toBe('root-not-live');
    expect(holds('shelf-a/Tidewater Sessions/A002.mov')).toBeNull();
    expect(evaluate(arrivalStalled, []).holds('stripe/Tidewater Sessions/A002.mov')).toBeNull();
  });

  test('of a root that is away nothing new is said: what it could not answer says nothing of the files', () => {
    for (const state of ['absent', 'hung', 'starting'] as const) {
      const volumes = [sampleVolume({ state })];
      const { findings, holds } = arrivalRefused.evaluate(
        sampleAssessment({ volumes, arrivals: [REFUSED] }),
        THRESHOLDS,
      );
      expect(findings).toEqual([]);
      expect(holds('stripe/Saltmarsh/notes.mov')).toBe('root-not-live');
    }
  });

  test('what was said of two files of one take stands while the take is looked at again as one', () => {
    const unit = 'Tidewater Sessions/a002.*';
    const again = { ...STALLED, unit, stage: 'settling' as const };
    const { holds } = evaluate(arrivalStalled, [again]);
    expect(holds('stripe/Tidewater Sessions/A002.wav')).toBe('judged-again');
    expect(holds('stripe/Tidewater Sessions/A003.wav')).toBeNull();
    // One that has a line of its own is judged by that.
    const copied = { ...STALLED, unit, path: 'Tidewater Sessions/A002.wav', stage: 'copying' as const };
    expect(evaluate(arrivalStalled, [again, copied]).holds('stripe/Tidewater Sessions/A002.wav')).toBeNull();
  });
});
