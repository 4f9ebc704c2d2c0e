import { describe, expect, test } from 'vitest';
import { type SubjectState, withSnoozes } from '../../../src/core/advise/advise.ts';
import type { Announced, Announcement } from '../../../src/core/advise/announce.ts';
import {
  hush,
  lifted,
  type Snooze,
  type SnoozeAsked,
  snoozeOf,
  snoozeProblem,
} from '../../../src/core/advise/snooze.ts';
import type { Severity } from '../../../src/core/model.ts';
import { NOON } from '../samples.ts';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const QUIET: Announcement = { event: null, reason: 'told-already' };
const told: Announced = { event: 'first', severity: 'warning', at: NOON - DAY };

const asked = (until: number | null, reason = 'shelf-b comes at noon'): SnoozeAsked => ({ until, reason, by: 'anna' });
const snoozed = (until: number | null, severity: Severity = 'warning') => snoozeOf(asked(until), severity, NOON);

describe('a snooze', () => {
  test('lasts as long as it was asked for, or as it is known, and keeps who and why', () => {
    expect(snoozed(NOON + 3 * DAY)).toEqual({
      ...{ saidAt: NOON, saidBy: 'anna', reason: 'shelf-b comes at noon', severity: 'warning', isKnown: false },
      ...{ until: NOON + 3 * DAY, ends: 'as-asked' },
    });
    expect(snoozed(null)).toMatchObject({ isKnown: true, until: null, ends: 'as-asked' });
  });

  test.each<[string, number | null, number, Snooze['ends']]>([
    ['for less than a day', NOON + 4 * HOUR, 4 * HOUR, 'as-asked'],
    ['for a day', NOON + DAY, DAY, 'as-asked'],
    ['for longer', NOON + DAY + 1, DAY, 'as-critical'],
    ['as known', null, DAY, 'as-critical'],
  ])('of what is critical comes back after a day at most, asked %s', (_, until, after, ends) => {
    expect(snoozed(until, 'critical')).toMatchObject({ until: NOON + after, ends, isKnown: until === null });
  });

  test('what cannot be is refused in words', () => {
    expect(snoozeProblem(asked(NOON + 1), NOON)).toBeNull();
    expect(snoozeProblem(asked(NOON + 1, ''), NOON)).toBeNull();
    expect(snoozeProblem(asked(null), NOON)).toBeNull();
    expect(snoozeProblem(asked(null, ' \n '), NOON)).toMatch(/takes a reason/);
    expect(snoozeProblem(asked(NOON), NOON)).toMatch(/over already/);
    expect(snoozeProblem(asked(Number.NaN), NOON)).toMatch(/over already/);
    expect(snoozeProblem(asked(NOON + 366 * DAY), NOON)).toBeNull();
    expect(snoozeProblem(asked(NOON + 366 * DAY + 1), NOON)).toMatch(/a year at most/);
    expect(snoozeProblem(asked(NOON + 1, '潮'.repeat(200)), NOON)).toBeNull();
    expect(snoozeProblem(asked(NOON + 1, '🎬'.repeat(201)), NOON)).toMatch(/at most 200 characters, this one has 201/);
  });

  test('a name is cut, a reason is trimmed', () => {
    const { saidBy, reason } = snoozeOf({ until: null, reason: ' known \n', by: 'x'.repeat(1000) }, 'notice', NOON);
    expect(saidBy).toHaveLength(64);
    expect(reason).toBe('known');
  });
});

describe('while somebody wants quiet', () => {
  const warning = snoozed(NOON + 4 * HOUR);
  const known = snoozed(null);

  test.each<[string, Snooze, Announcement, Severity | null, number, ReturnType<typeof hush>]>([
    ['nothing is told', warning, QUIET, 'warning', 1, { event: null, reason: 'snoozed', snooze: warning }],
    [
      'nobody is reminded',
      warning,
      { event: 'reminder', reason: 'a-day-since-last-told' },
      'warning',
      1,
      { event: null, reason: 'snoozed', snooze: warning },
    ],
    ['what is known is not told', known, QUIET, 'warning', 400 * DAY, { event: null, reason: 'known', snooze: known }],
    [
      'what gets less severe is not told',
      warning,
      { event: null, reason: 'better-is-not-told' },
      'notice',
      1,
      { event: null, reason: 'snoozed', snooze: warning },
    ],
    [
      'what gets worse is told, and ends it',
      known,
      QUIET,
      'critical',
      1,
      { event: 'worse', reason: 'worse-than-when-snoozed', snooze: null },
    ],
    [
      'what is over is told, and ends it',
      known,
      { event: 'cleared', reason: 'no-longer-holds' },
      null,
      1,
      { event: 'cleared', reason: 'no-longer-holds', snooze: null },
    ],
    [
      'a moment before its end',
      warning,
      QUIET,
      'warning',
      4 * HOUR - 1,
      { event: null, reason: 'snoozed', snooze: warning },
    ],
    [
      'at its end it is told again',
      warning,
      QUIET,
      'warning',
      4 * HOUR,
      { event: 'reminder', reason: 'snooze-is-over', snooze: null },
    ],
    [
      'at its end, though less severe by then',
      warning,
      { event: null, reason: 'better-is-not-told' },
      'notice',
      4 * HOUR,
      { event: 'reminder', reason: 'snooze-is-over', snooze: null },
    ],
    [
      'of what is critical the day is over',
      snoozed(null, 'critical'),
      QUIET,
      'critical',
      DAY,
      { event: 'reminder', reason: 'critical-is-not-snoozed-longer', snooze: null },
    ],
    [
      'somebody took it back',
      lifted(known, NOON + 5),
      QUIET,
      'warning',
      5,
      { event: 'reminder', reason: 'snooze-was-lifted', snooze: null },
    ],
  ])('%s', (_, snooze, said, severity, after, expected) => {
    expect(hush(snooze, said, told, severity, NOON + after)).toEqual(expected);
  });

  test('what was never told is told as new when the quiet ends, by time or because it got worse', () => {
    const first: Announcement = { event: 'first', reason: 'newly-raised' };
    expect(hush(warning, first, null, 'warning', NOON + 1)).toMatchObject({ event: null });
    expect(hush(warning, first, null, 'warning', NOON + 4 * HOUR)).toMatchObject({ event: 'first' });
    expect(hush(warning, first, null, 'critical', NOON + 1)).toMatchObject({ event: 'first' });
  });

  test('it is told as worse although it was told as severe before: critical, then a warning that was snoozed, then critical', () => {
    const before: Announced = { event: 'worse', severity: 'critical', at: NOON - DAY };
    expect(hush(warning, QUIET, before, 'critical', NOON + 1)).toMatchObject({ event: 'worse' });
    // A reminder that is due by then does not hide that it got worse.
    const due: Announcement = { event: 'reminder', reason: 'a-day-since-last-told' };
    expect(hush(warning, due, before, 'critical', NOON + 1)).toMatchObject({ event: 'worse' });
  });

  test('nobody wants quiet: what would be said is said', () => {
    const first: Announcement = { event: 'first', reason: 'newly-raised' };
    expect(hush(null, first, null, 'warning', NOON)).toEqual({ ...first, snooze: null });
  });

  test('what was lifted is over, though the clock was set back since', () => {
    expect(hush(lifted(known, NOON + 5 * HOUR), QUIET, told, 'warning', NOON + HOUR)).toMatchObject({
      event: 'reminder',
      reason: 'snooze-was-lifted',
    });
  });

  test('a clock that is set back does not lengthen it; a pass that began a moment before changes nothing', () => {
    const back = NOON - 100 * DAY;
    const { snooze } = hush(warning, QUIET, told, 'warning', back);
    expect(snooze).toMatchObject({ saidAt: back, until: back + 4 * HOUR });
    expect(hush(snooze, QUIET, told, 'warning', back + 4 * HOUR)).toMatchObject({ event: 'reminder' });
    expect(hush(known, QUIET, told, 'warning', back)).toMatchObject({ event: null, snooze: { until: null } });
    expect(hush(warning, QUIET, told, 'warning', NOON - 59_000)).toMatchObject({ event: null, snooze: warning });
  });
});

test('it is put in where the advisory stands, and nowhere else', () => {
  const subject = (id: string, phase: 'raised' | 'pending'): [string, SubjectState] => [
    id,
    {
      ...{ id, kind: 'volume-busy', subject: id, announced: null, snooze: null },
      hysteresis: { phase, since: NOON, severity: 'warning', falling: null },
      latest: { message: '', figures: {}, remedies: [] },
    },
  ];
  const state = new Map([subject('a', 'raised'), subject('b', 'pending'), subject('c', 'raised')]);
  const said = snoozed(null);
  const put = withSnoozes(
    state,
    new Map([
      ['a', said],
      ['b', said],
      ['gone', said],
    ]),
  );
  expect([...put].map(([id, { snooze }]) => [id, snooze])).toEqual([
    ['a', said],
    ['b', null],
    ['c', null],
  ]);
});
