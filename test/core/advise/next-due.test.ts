import { describe, expect, test } from 'vitest';
import type { SubjectState } from '../../../src/core/advise/advise.ts';
import type { Announced } from '../../../src/core/advise/announce.ts';
import type { HysteresisState } from '../../../src/core/advise/hysteresis.ts';
import { nextDue } from '../../../src/core/advise/next-due.ts';
import { snoozeOf } from '../../../src/core/advise/snooze.ts';
import type { Severity } from '../../../src/core/model.ts';
import { NOON } from '../samples.ts';

const HOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const DAY_MS = 86_400_000;

function due(hysteresis: HysteresisState, changes: Partial<SubjectState> = {}): number {
  const subject: SubjectState = {
    id: 'x',
    kind: 'speed-overrun',
    subject: 'stripe',
    hysteresis,
    announced: null,
    snooze: null,
    latest: { message: '', figures: {}, remedies: [] },
    ...changes,
  };
  return nextDue(new Map([['x', subject]]), HOLDS) - NOON;
}

const told: Announced = { event: 'first', severity: 'critical', at: NOON };

const CRITICAL: HysteresisState = { phase: 'raised', since: NOON, severity: 'critical', falling: null };
const snoozed = (until: number | null, severity: Severity = 'critical') =>
  snoozeOf({ until, reason: 'known here', by: 'anna' }, severity, NOON + 7);

describe('when time alone changes something', () => {
  test('never of nothing, and of what just holds', () => {
    expect(nextDue(new Map(), HOLDS)).toBe(Number.POSITIVE_INFINITY);
    expect(due({ phase: 'raised', since: NOON, severity: 'warning', falling: null })).toBe(Number.POSITIVE_INFINITY);
  });

  test.each<[string, HysteresisState, Partial<SubjectState>, number]>([
    ['seen, not yet for long enough', { phase: 'pending', since: NOON, severity: 'warning' }, {}, 20_000],
    [
      'away, not yet for long enough',
      { phase: 'raised', since: NOON, severity: 'warning', falling: { to: 'none', since: NOON } },
      {},
      60_000,
    ],
    [
      'of a kind that does not wait',
      { phase: 'pending', since: NOON, severity: 'warning' },
      { kind: 'arrival-stalled' },
      0,
    ],
    [
      'critical and told',
      { phase: 'raised', since: NOON, severity: 'critical', falling: null },
      { announced: told },
      DAY_MS,
    ],
    ['critical, told and snoozed', CRITICAL, { announced: told, snooze: snoozed(NOON + 5 * DAY_MS) }, DAY_MS + 7],
    [
      'critical and told long ago, snoozed',
      CRITICAL,
      { announced: { ...told, at: 0 }, snooze: snoozed(NOON + 60) },
      60,
    ],
    [
      'known, and away, not yet for long enough',
      { phase: 'raised', since: NOON, severity: 'warning', falling: { to: 'none', since: NOON } },
      { snooze: snoozed(null, 'warning') },
      60_000,
    ],
    [
      'known',
      { phase: 'raised', since: NOON, severity: 'warning', falling: null },
      { snooze: snoozed(null, 'warning') },
      Number.POSITIVE_INFINITY,
    ],
  ])('%s', (_, hysteresis, changes, expected) => {
    expect(due(hysteresis, changes)).toBe(expected);
  });
});
