import { expect, test } from 'vitest';
import { afterTry, type ChannelRule, isInTime, openTo, pauseAfter, route } from '../../../src/core/notify/delivery.ts';
import { quietUntil } from '../../../src/core/notify/quiet-hours.ts';

const rule: ChannelRule = { name: 'mail', severity: 'warning', quiet: null, quietSeverity: 'critical' };
const at = (text: string) => Temporal.Instant.from(text).epochMilliseconds;

test('what is less severe than asked for is not told; what is over is offered always', () => {
  expect(route(rule, 'first', 'notice')).toEqual({ isQueued: false, reason: 'below-severity' });
  expect(route(rule, 'first', 'warning')).toEqual({ isQueued: true, reason: 'wanted' });
  expect(route(rule, 'worse', 'critical').isQueued).toBe(true);
  expect(route(rule, 'cleared', 'notice')).toEqual({ isQueued: true, reason: 'over' });
});

test('quiet hours lead over midnight, by the clocks of the place', () => {
  const night = { from: 22 * 60, until: 7 * 60 };
  expect(quietUntil(night, 'Europe/Rome', at('2027-03-04T21:59:59+01:00'))).toBeNull();
  expect(quietUntil(night, 'Europe/Rome', at('2027-03-04T22:00:00+01:00'))).toBe(at('2027-03-05T07:00:00+01:00'));
  expect(quietUntil(night, 'Europe/Rome', at('2027-03-05T06:59:59+01:00'))).toBe(at('2027-03-05T07:00:00+01:00'));
  expect(quietUntil(night, 'Europe/Rome', at('2027-03-05T07:00:00+01:00'))).toBeNull();
  const noon = { from: 12 * 60, until: 13 * 60 };
  expect(quietUntil(noon, 'UTC', at('2027-03-04T12:30:00Z'))).toBe(at('2027-03-04T13:00:00Z'));
  expect(quietUntil(noon, 'UTC', at('2027-03-04T13:00:00Z'))).toBeNull();
});

// The change of clocks of the European Union, Directive 2000/84/EC: 28 March 2027 01:00 UTC, 31 October 2027 01:00 UTC.
test('the change of clocks moves the end, and an end that comes twice is looked at again', () => {
  const night = { from: 22 * 60, until: 7 * 60 };
  expect(quietUntil(night, 'Europe/Rome', at('2027-03-27T23:00:00+01:00'))).toBe(at('2027-03-28T07:00:00+02:00'));
  const odd = { from: 60, until: 150 };
  // 02:30 comes at 00:30 UTC and again at 01:30 UTC; at 01:10 UTC the clocks show 02:10 for the second time.
  expect(quietUntil(odd, 'Europe/Rome', at('2027-10-31T01:10:00Z'))).toBe(at('2027-10-31T01:11:00Z'));
});

test('in quiet hours only what is severe enough goes', () => {
  const night = { ...rule, quiet: { from: 0, until: 60 } };
  const now = at('2027-03-04T00:10:00Z');
  expect(openTo(night, 'UTC', now)).toEqual({
    ...{ least: 'critical', until: at('2027-03-04T01:00:00Z'), reason: 'quiet-hours' },
  });
  expect(openTo(night, 'UTC', at('2027-03-04T01:00:00Z'))).toEqual({
    ...{ least: 'notice', until: null, reason: 'open-hours' },
  });
  expect(openTo(rule, 'UTC', now).reason).toBe('open-hours');
});

test('pauses double from 5 s to 15 min', () => {
  expect([1, 2, 3, 4, 5, 6, 7, 8, 9, 99].map(pauseAfter).map((ms) => ms / 1000)).toEqual([
    ...[5, 10, 20, 40, 80, 160, 320, 640, 900, 900],
  ]);
});

test('after a day it is given up', () => {
  expect(isInTime(0, 86_400_000)).toEqual({ inTime: true, reason: 'in-time' });
  expect(isInTime(0, 86_400_001)).toEqual({ inTime: false, reason: 'too-old' });
});

test('what a try means', () => {
  expect(afterTry({ sent: true })).toEqual({ end: 'sent', reason: 'answered' });
  expect(afterTry({ sent: false, retry: true, message: '' })).toEqual({ end: 'again', reason: 'not-through' });
  expect(afterTry({ sent: false, retry: false, message: '' })).toEqual({ end: 'given-up', reason: 'refused' });
});
