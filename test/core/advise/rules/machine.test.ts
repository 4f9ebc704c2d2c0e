import { describe, expect, test } from 'vitest';
import { clockJump } from '../../../../src/core/advise/rules/clock-jump.ts';
import { stateDiskLow } from '../../../../src/core/advise/rules/state-disk.ts';
import type { Assessment } from '../../../../src/core/assess/assessment.ts';
import { NOON, sampleAssessment } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const HOUR = 3_600_000;
const MB = 1e6;
const PATH = '/home/mina/.local/state/headroomd';

describe('the drive of the state', () => {
  /** The state takes 60 MB: 2 x 60 + 200 = 320 MB are wanted, 400 MB clear it. */
  const evaluate = (availableBytes: number, over: Partial<Assessment> = {}) =>
    stateDiskLow.evaluate(
      sampleAssessment({
        machine: { clockJump: null, stateRoom: { path: PATH, availableBytes, ownBytes: 60 * MB } },
        ...over,
      }),
      THRESHOLDS,
    );

  test('is told when it is nearly full, with what it means and how much is missing', () => {
    const [finding] = evaluate(180 * MB).findings;
    expect(finding).toMatchObject({ subject: PATH, severity: 'warning', figures: { wantedBytes: 320 * MB } });
    expect(finding?.message).toBe(
      `The drive of headroomd's own state has 180 MB left to write (${PATH}, which takes 60.0 MB). When it is full, what arrives is not taken in and no copy is noted. Your footage is not touched.`,
    );
    expect(finding?.remedies[0]?.effect).toBe('320 MB free suffice; 140 MB are missing');
    expect(evaluate(99 * MB).findings[0]?.severity).toBe('critical');
  });

  test('is over with a quarter more, and stands between', () => {
    expect([evaluate(320 * MB).findings, evaluate(320 * MB).holds(PATH)]).toEqual([[], 'between-thresholds']);
    expect(evaluate(400 * MB).holds(PATH)).toBeNull();
  });

  test('that it cannot be written any more is told by itself; what is not known takes nothing back', () => {
    const refused = evaluate(0, { stateTrouble: { message: 'No room left.', since: NOON } });
    expect([refused.findings, refused.holds(PATH)]).toEqual([[], 'between-thresholds']);
    expect(stateDiskLow.evaluate(sampleAssessment(), THRESHOLDS).holds(PATH)).toBe('root-not-live');
  });
});

describe('a clock that was set', () => {
  const evaluate = (byMs: number) =>
    clockJump.evaluate(
      sampleAssessment({ zone: 'Europe/Rome', machine: { stateRoom: null, clockJump: { at: NOON, byMs } } }),
      THRESHOLDS,
    );

  test('is told with what it said and what it should have said', () => {
    const [forward] = evaluate(3 * HOUR).findings;
    expect(forward).toMatchObject({ subject: 'clock', severity: 'notice', figures: { byMs: 3 * HOUR, at: NOON } });
    expect(forward?.message).toContain(
      'The clock of this machine was put forward by 3 h 00 min: instead of 2027-03-04 10:00:00 it said 2027-03-04 13:00:00.',
    );
    expect(evaluate(-90_000).findings[0]?.message).toContain(
      'was put back by 1 min 30 s: instead of 2027-03-04 13:01:30 it said 2027-03-04 13:00:00. A backup of that time is not made again',
    );
  });

  test('is over when it was put right, or long ago', () => {
    const { findings, holds } = clockJump.evaluate(sampleAssessment(), THRESHOLDS);
    expect([findings, holds('clock')]).toEqual([[], null]);
  });
});
