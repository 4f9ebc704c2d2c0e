import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { lastDay, periodOf, reportDay, reportDue } from '../../../src/core/notify/report-day.ts';

const at = (text: string) => Temporal.Instant.from(text).epochMilliseconds;
const HALF_PAST_SEVEN = 7 * 60 + 30;
const HALF_PAST_TWO = 2 * 60 + 30;

// The change of clocks of the European Union, Directive 2000/84/EC: 28 March 2027 01:00 UTC, 31 October 2027 01:00 UTC.
// Lord Howe Island puts its clocks forward by half an hour at 02:00 of the first Sunday in October (Standard Time Act 1987, New South Wales).
describe('the hour of a report', () => {
  test.each([
    ['an ordinary day', 'Europe/London', HALF_PAST_SEVEN, '2027-03-05T12:00:00Z', '2027-03-05', '2027-03-05T07:30:00Z'],
    ['summer time', 'Europe/London', HALF_PAST_SEVEN, '2027-03-28T12:00:00Z', '2027-03-28', '2027-03-28T06:30:00Z'],
    [
      'an hour that is left out',
      'Europe/Rome',
      HALF_PAST_TWO,
      '2027-03-28T12:00:00Z',
      '2027-03-28',
      '2027-03-28T01:00:00Z',
    ],
    ['the first minute left out', 'Europe/Rome', 120, '2027-03-28T12:00:00Z', '2027-03-28', '2027-03-28T01:00:00Z'],
    ['the minute after it', 'Europe/Rome', 180, '2027-03-28T12:00:00Z', '2027-03-28', '2027-03-28T01:00:00Z'],
    [
      'an hour that comes twice',
      'Europe/Rome',
      HALF_PAST_TWO,
      '2027-10-31T12:00:00Z',
      '2027-10-31',
      '2027-10-31T00:30:00Z',
    ],
    ['half an hour left out', 'Australia/Lord_Howe', 135, '2027-10-03T12:00:00Z', '2027-10-03', '2027-10-02T15:30:00Z'],
    [
      'another day there',
      'Pacific/Auckland',
      HALF_PAST_SEVEN,
      '2027-03-04T20:00:00Z',
      '2027-03-05',
      '2027-03-04T18:30:00Z',
    ],
  ])('%s', (_, zone, minutes, now, day, due) => {
    expect(reportDay(minutes, zone, at(now))).toEqual({ day, at: at(due) });
  });

  test('is due from its minute on, once, also late on the same day; while volumes are read it waits ten minutes', () => {
    const today = reportDay(HALF_PAST_SEVEN, 'Europe/London', at('2027-03-05T00:10:00Z'));
    const due = (now: string, over = {}) =>
      reportDue(today, { isMade: false, isRead: true, waitedMs: 0, ...over }, at(now)).reason;
    expect(due('2027-03-05T07:29:59.999Z')).toBe('not-yet');
    expect(due('2027-03-05T07:30:00Z')).toBe('due');
    expect(due('2027-03-05T23:59:00Z')).toBe('due');
    expect(due('2027-03-05T07:30:00Z', { isMade: true })).toBe('made-already');
    expect(due('2027-03-05T07:30:00Z', { isRead: false, waitedMs: 599_999 })).toBe('being-read');
    expect(due('2027-03-05T07:30:00Z', { isRead: false, waitedMs: 600_000 })).toBe('due');
  });

  test('however the clocks jump, each day has one at the most, and none before its hour', () => {
    const zones = fc.constantFrom('Europe/Rome', 'Australia/Lord_Howe', 'America/New_York', 'Asia/Kolkata', 'UTC');
    const start = at('2027-03-25T00:00:00Z');
    const looks = fc.array(fc.integer({ min: -3 * 86_400_000, max: 3 * 86_400_000 }), { minLength: 1, maxLength: 60 });
    fc.assert(
      fc.property(zones, fc.integer({ min: 0, max: 1439 }), looks, (zone, minutes, steps) => {
        const made = new Map<string, number>();
        let now = start;
        for (const step of steps) {
          now += step;
          const today = reportDay(minutes, zone, now);
          const known = { isMade: made.has(today.day), isRead: true, waitedMs: 0 };
          if (!reportDue(today, known, now).isDue) continue;
          made.set(today.day, now);
          const shown = Temporal.Instant.fromEpochMilliseconds(now).toZonedDateTimeISO(zone);
          expect(shown.toPlainDate().toString()).toBe(today.day);
          expect(shown.hour * 60 + shown.minute).toBeGreaterThanOrEqual(minutes);
        }
      }),
    );
  });

  test('whoever looks each minute finds one on each of 400 days, both changes of clocks among them', () => {
    const made = new Map<string, number>();
    let now = at('2026-12-31T12:00:00Z');
    for (let minute = 0; minute < 400 * 1440; minute += 10, now += 600_000) {
      const today = reportDay(HALF_PAST_TWO, 'Europe/Rome', now);
      if (reportDue(today, { isMade: made.has(today.day), isRead: true, waitedMs: 0 }, now).isDue)
        made.set(today.day, now);
    }
    // The first day is 31 December, whose hour was over; the looking ends at noon UTC of 4 February 2028.
    expect(made.size).toBe(401);
    expect([...made.values()].every((one, index, all) => index === 0 || one > (all[index - 1] ?? 0))).toBe(true);
  });
});

describe('the time that it tells of', () => {
  const now = at('2027-03-28T06:30:00Z');

  test('begins where the last one that was sent ended', () => {
    const sent = at('2027-03-27T10:15:00Z');
    expect(periodOf(HALF_PAST_SEVEN, 'Europe/London', now, sent)).toEqual({
      from: sent,
      until: now,
      basis: 'last-report',
    });
    const longAgo = at('2027-03-20T06:30:00Z');
    expect(periodOf(HALF_PAST_SEVEN, 'Europe/London', now, longAgo).from).toBe(longAgo);
  });

  test('without one begins at the hour of the day before, 23 hours ago when the clocks were put forward, 25 when back', () => {
    const hours = (instant: number) =>
      (instant - periodOf(HALF_PAST_SEVEN, 'Europe/London', instant, null).from) / 3_600_000;
    expect(hours(now)).toBe(23);
    expect(hours(at('2027-10-31T07:30:00Z'))).toBe(25);
    expect(hours(at('2027-03-05T07:30:00Z'))).toBe(24);
    expect(periodOf(HALF_PAST_SEVEN, 'Europe/London', now, null).basis).toBe('report-hour');
  });

  test('after one that was sent longer ago it tells of eight days, and says so', () => {
    const period = periodOf(HALF_PAST_SEVEN, 'Europe/London', now, at('2027-03-20T06:29:59Z'));
    expect(period).toEqual({ from: now - 8 * 86_400_000, until: now, basis: 'eight-days' });
  });

  test('one that ended ahead, by a clock that was set back, is not gone on from', () => {
    expect(periodOf(HALF_PAST_SEVEN, 'Europe/London', now, at('2027-03-29T06:30:00Z')).basis).toBe('report-hour');
  });

  test('asked for, it is a day of 24 hours', () => {
    expect(lastDay(now)).toEqual({ from: now - 86_400_000, until: now, basis: 'last-day' });
  });
});
