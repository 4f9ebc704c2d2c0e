import { describe, expect, test } from 'vitest';
import { type Announced, announce, remember } from '../../../src/core/advise/announce.ts';
import { NOON } from '../samples.ts';

const DAY_MS = 86_400_000;
const told = (severity: Announced['severity'], at = NOON): Announced => ({ event: 'first', severity, at });

describe('what is announced', () => {
  test.each([
    ['raised', 'raised', null, 'warning', 0, 'first', 'newly-raised'],
    ['raised without a change in this pass, but never told', null, null, 'warning', 0, 'first', 'newly-raised'],
    ['still there', null, told('warning'), 'warning', 10 * DAY_MS, null, 'told-already'],
    ['more severe', 'worse', told('warning'), 'critical', 1, 'worse', 'more-severe-than-told'],
    ['as severe again as was told', 'worse', told('critical'), 'critical', 1, null, 'told-already'],
    ['less severe', 'better', told('critical'), 'warning', 1, null, 'better-is-not-told'],
    ['critical for almost a day', null, told('critical'), 'critical', DAY_MS - 1, null, 'told-already'],
    ['critical for a day', null, told('critical'), 'critical', DAY_MS, 'reminder', 'a-day-since-last-told'],
    ['over', 'cleared', told('warning'), null, 1, 'cleared', 'no-longer-holds'],
    ['over without having been told', 'cleared', null, null, 1, null, 'never-told'],
    ['pending', null, null, null, 1, null, 'not-raised'],
  ] as const)('%s', (_, change, last, severity, after, event, reason) => {
    expect(announce(change, last, severity, NOON + after)).toEqual({ event, reason });
  });
});

describe('what is remembered', () => {
  test('the most severe that was told, and when', () => {
    expect(remember(null, 'first', 'warning', NOON)).toEqual({ event: 'first', severity: 'warning', at: NOON });
    expect(remember(told('critical'), 'worse', 'warning', NOON + 1)).toEqual({
      event: 'worse',
      severity: 'critical',
      at: NOON + 1,
    });
    expect(remember(told('warning'), null, 'critical', NOON + 1)).toEqual(told('warning'));
    expect(remember(null, null, 'warning', NOON)).toBeNull();
  });

  test('a clock set back does not silence the reminders', () => {
    const last = remember(told('critical'), null, 'critical', NOON - 100 * DAY_MS);
    expect(announce(null, last, 'critical', NOON - 99 * DAY_MS).event).toBe('reminder');
  });
});
