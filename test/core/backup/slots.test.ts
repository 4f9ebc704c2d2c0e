import { execFileSync } from 'node:child_process';
import fc from 'fast-check';
import { createTask } from 'node-cron';
import { describe, expect, test, vi } from 'vitest';
import { lastSlot, nextSlot, slotsBetween, timetable, wakeText } from '../../../src/core/backup/slots.ts';

const at = (iso: string) => Date.parse(iso);
const iso = (instants: { at: number }[]) => instants.map((slot) => new Date(slot.at).toISOString().slice(0, 16));

describe('slots', () => {
  const nightly = timetable('0 4 * * *', 'Europe/Rome');

  test('the next is after an instant, the last is at or before it', () => {
    expect(nextSlot(nightly, at('2027-03-04T02:59:59.999Z'))).toEqual({ at: at('2027-03-04T03:00Z'), isInGap: false });
    expect(nextSlot(nightly, at('2027-03-04T03:00Z'))?.at).toBe(at('2027-03-05T03:00Z'));
    expect(lastSlot(nightly, at('2027-03-04T03:00Z'))?.at).toBe(at('2027-03-04T03:00Z'));
    expect(lastSlot(nightly, at('2027-03-04T02:59:59.999Z'))?.at).toBe(at('2027-03-03T03:00Z'));
  });

  // Directive 2000/84/EC: summer time begins at 01:00 UTC on the last Sunday of March and ends at 01:00 UTC on that of October.
  test('go with the clocks of the place', () => {
    const spring = slotsBetween(nightly, at('2027-03-27T00:00Z'), at('2027-03-29T12:00Z'));
    expect(iso(spring)).toEqual(['2027-03-27T03:00', '2027-03-28T02:00', '2027-03-29T02:00']);
  });

  test('a time that the clocks skip is the first moment after', () => {
    const table = timetable('30 2 * * *', 'Europe/Rome');
    const slots = slotsBetween(table, at('2027-03-27T00:00Z'), at('2027-03-29T12:00Z'));
    expect(iso(slots)).toEqual(['2027-03-27T01:30', '2027-03-28T01:00', '2027-03-29T00:30']);
    expect(slots.map(({ isInGap }) => isInGap)).toEqual([false, true, false]);
  });

  test('several times that are skipped, and one that is there, are one moment', () => {
    const table = timetable('0,20,40 2,3 * * *', 'Europe/Rome');
    const slots = slotsBetween(table, at('2027-03-28T00:00Z'), at('2027-03-28T12:00Z'));
    expect(iso(slots)).toEqual(['2027-03-28T01:00', '2027-03-28T01:20', '2027-03-28T01:40']);
    expect(slots.map(({ isInGap }) => isInGap)).toEqual([false, false, false]);
  });

  test('a time that is shown twice counts when it is shown first', () => {
    const table = timetable('30 2 * * *', 'Europe/Rome');
    const slots = slotsBetween(table, at('2027-10-30T12:00Z'), at('2027-11-01T12:00Z'));
    expect(iso(slots)).toEqual(['2027-10-31T00:30', '2027-11-01T01:30']);
  });

  // The IANA time zone database (southamerica, australasia): clocks that go forward at midnight, a half-hour change, a day left out.
  test.each([
    ['America/Asuncion', '15 0 * * *', '2023-09-30T12:00Z', ['2023-10-01T04:00', '2023-10-02T03:15']],
    ['Australia/Lord_Howe', '15 2 * * *', '2027-10-02T00:00Z', ['2027-10-02T15:30', '2027-10-03T15:15']],
    ['Pacific/Apia', '0 4 * * *', '2011-12-29T00:00Z', ['2011-12-29T14:00', '2011-12-30T10:00', '2011-12-30T14:00']],
  ])('%s "%s"', (zone, text, from, slots) => {
    expect(iso(slotsBetween(timetable(text, zone), at(from), at(from) + 50 * 3_600_000))).toEqual(slots);
  });

  // The same (northamerica): at a minute past midnight the clocks went back to the day before.
  test('midnight that comes twice is the first', () => {
    const table = timetable('0 0 * * *', 'America/St_Johns');
    const evening = at('2006-10-29T03:00Z');
    expect(iso([lastSlot(table, evening) ?? { at: 0 }, nextSlot(table, evening) ?? { at: 0 }])).toEqual([
      '2006-10-29T02:30',
      '2006-10-30T03:30',
    ]);
  });

  // crontab(5) of common cron programs: where both are chosen, either counts; `*` with a step chooses days, but is not a choice.
  test('days of the month and of the week', () => {
    const in2027 = (text: string) =>
      iso(slotsBetween(timetable(text, 'UTC'), at('2027-02-01T00:00Z'), at('2027-02-28T23:59Z'))).map((slot) =>
        Number(slot.slice(8, 10)),
      );
    expect(in2027('0 4 13 * 1')).toEqual([1, 8, 13, 15, 22]);
    expect(in2027('0 4 */5 * 1')).toEqual([1]);
    expect(in2027('0 4 31 2 7')).toEqual([7, 14, 21, 28]);
    expect(in2027('0 4 * 3 *')).toEqual([]);
  });

  test('the rarest of all is found, both ways', () => {
    const table = timetable('0 4 29 2 */7', 'UTC');
    expect(iso([nextSlot(table, at('2072-03-01T00:00Z')) ?? { at: 0 }])).toEqual(['2088-02-29T04:00']);
    const friday = timetable('0 4 29 2 */5', 'UTC');
    expect(nextSlot(friday, at('2096-03-01T00:00Z'))?.at).toBeLessThan(at('2137-01-01T00:00Z'));
    expect(lastSlot(table, at('2072-02-29T04:00Z'))?.at).toBeLessThan(at('2072-02-29T04:00Z'));
  });

  test('what cannot be read, and a zone that nobody knows, is told', () => {
    expect(() => timetable('0 25 * * *', 'UTC')).toThrow('the hour goes from 0 to 23');
    expect(() => timetable('0 4 * * *', 'Europe/Atlantis')).toThrow(RangeError);
  });

  test('times for a timer that knows neither names nor steps', () => {
    expect(wakeText(timetable('5/20 0-2,22 1-7 jan MON', 'UTC'))).toBe('5,25,45 0,1,2,22 * * *');
  });
});

describe('beside other programs', () => {
  /** Fields in the forms that node-cron reads, without those where it goes its own way: days of the month and of the week together. */
  const text = fc
    .record({
      minute: fc.constantFrom('0', '30', '*/20', '5-50/15', '7,42'),
      hour: fc.constantFrom('4', '*/6', '0-3', '22,23'),
      day: fc.oneof(
        fc.constantFrom('1', '31', '*/10', '28-30').map((day) => `${day} * *`),
        fc.constantFrom('mon', '0,6', '2-4', '7').map((day) => `* * ${day}`),
        fc.constantFrom('feb', '1-3', '12').map((month) => `29 ${month} *`),
      ),
    })
    .map(({ minute, hour, day }) => `${minute} ${hour} ${day}`);
  const instant = fc.integer({ min: at('2026-01-01T00:00Z'), max: at('2030-01-01T00:00Z') });

  // node-cron 4.6.0, in a zone whose clocks are never put.
  test('the next five slots are those that node-cron finds', () => {
    vi.useFakeTimers({ toFake: ['Date'] });
    try {
      fc.assert(
        fc.property(text, instant, (fields, from) => {
          vi.setSystemTime(from);
          const theirs = createTask(fields, () => {}, { timezone: 'Asia/Tokyo' }).getNextRuns(5);
          expect(theirs.length).toBe(5);
          const table = timetable(fields, 'Asia/Tokyo');
          let after = from;
          const ours = theirs.map(() => {
            after = nextSlot(table, after)?.at ?? Number.NaN;
            return after;
          });
          expect(ours).toEqual(theirs.map((date) => date.getTime()));
        }),
      );
    } finally {
      vi.useRealTimers();
    }
  });

  // GNU date with the system's own time zone tables.
  test('every slot of a year shows its time on the clocks of the place, but for the one that was skipped', () => {
    for (const [zone, text] of [
      ['Europe/Rome', '30 2 * * *'],
      ['America/New_York', '0 4 * * *'],
    ] as const) {
      const slots = slotsBetween(timetable(text, zone), at('2027-01-01T12:00Z'), at('2027-12-31T12:00Z'));
      expect(slots.length).toBe(364);
      const input = slots.map((slot) => `@${slot.at / 1000}`).join('\n');
      const shown = execFileSync('date', ['-f', '-', '+%F %H:%M'], { input, env: { TZ: zone }, encoding: 'utf8' });
      const lines = shown.trim().split('\n');
      expect(new Set(lines.map((line) => line.slice(0, 10))).size).toBe(364);
      const usual = text === '0 4 * * *' ? '04:00' : '02:30';
      const odd = lines.filter((line) => !line.endsWith(usual));
      expect(odd).toEqual(zone === 'Europe/Rome' ? ['2027-03-28 03:00'] : []);
    }
  });

  test('going back and going forward meet', () => {
    fc.assert(
      fc.property(text, instant, fc.constantFrom('Europe/Rome', 'America/New_York'), (fields, from, zone) => {
        const table = timetable(fields, zone);
        const next = nextSlot(table, from)?.at ?? Number.NaN;
        expect(lastSlot(table, next)?.at).toBe(next);
        expect(lastSlot(table, next - 1)?.at ?? 0).toBeLessThanOrEqual(from);
      }),
    );
  });
});
