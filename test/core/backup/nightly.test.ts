import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { deadlineOf, type NightlyState, nextNightly, nightly } from '../../../src/core/backup/nightly.ts';
import { timetable } from '../../../src/core/backup/slots.ts';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const ROME = timetable('0 4 * * *', 'Europe/Rome');
const at = (text: string) => Temporal.ZonedDateTime.from(`${text}[Europe/Rome]`).epochMilliseconds;

/** Asks every minute, but where the machine is off, and tells what was begun. */
function week(text: string, from: string, to: string, off: readonly (readonly [string, string])[]): string[] {
  const table = timetable(text, 'Europe/Rome');
  let state: NightlyState | null = null;
  const begun: string[] = [];
  for (let now = at(from); now <= at(to); now += MINUTE) {
    if (off.some(([begin, end]) => now >= at(begin) && now < at(end))) continue;
    const decision = nightly(table, state, now);
    state = decision.state;
    if (decision.start === null) continue;
    const wall = Temporal.Instant.fromEpochMilliseconds(now).toZonedDateTimeISO('Europe/Rome');
    begun.push(`${wall.toPlainDateTime().toString({ smallestUnit: 'minute' })} ${decision.start}`);
  }
  return begun;
}

describe('the nightly backup', () => {
  // Clocks in the Union go forward on the last Sunday of March at 01:00 UTC (Directive 2000/84/EC).
  test('once each night, over the change of the clocks, a night that was slept through, and a day without a daemon', () => {
    const off = [
      ['2027-03-26T23:00', '2027-03-27T09:30'],
      ['2027-03-29T20:00', '2027-03-31T12:00'],
    ] as const;
    expect(week('0 4 * * *', '2027-03-24T12:00', '2027-04-01T12:00', off)).toEqual([
      '2027-03-25T04:00 nightly',
      '2027-03-26T04:00 nightly',
      '2027-03-27T09:30 catch-up',
      '2027-03-28T04:00 nightly',
      '2027-03-29T04:00 nightly',
      '2027-03-31T12:00 catch-up',
      '2027-04-01T04:00 nightly',
    ]);
  });

  test('at a time that the clocks skip it begins with the first moment after, and once', () => {
    expect(week('30 2 * * *', '2027-03-27T12:00', '2027-03-29T12:00', [])).toEqual([
      '2027-03-28T03:00 nightly',
      '2027-03-29T02:30 nightly',
    ]);
  });

  test('at a time that the clocks show twice it begins once', () => {
    expect(week('30 2 * * *', '2027-10-30T12:00', '2027-11-01T12:00', [])).toEqual([
      '2027-10-31T02:30 nightly',
      '2027-11-01T02:30 nightly',
    ]);
  });

  test('nothing that was due before the first start is made up for', () => {
    expect(nightly(ROME, null, at('2027-03-04T12:00')).start).toBeNull();
  });

  test('a clock that is put back repeats nothing; one that was days ahead begins anew', () => {
    const done = { handledUntil: at('2027-03-04T04:00') };
    expect(nightly(ROME, done, at('2027-03-04T03:00'))).toEqual({ state: done, start: null });
    expect(nightly(ROME, done, at('2027-03-04T04:00')).start).toBeNull();
    const ahead = { handledUntil: at('2030-01-01T04:00') };
    const now = at('2027-03-04T12:00');
    expect(nightly(ROME, ahead, now)).toEqual({ state: { handledUntil: now }, start: null });
  });

  test('however often it is asked, each slot begins at most one run, and none is lost', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 60 * HOUR }), { minLength: 1, maxLength: 40 }), (steps) => {
        let now = at('2027-03-20T12:00');
        let state: NightlyState | null = { handledUntil: now };
        const end = now + steps.reduce((sum, step) => sum + step, 0);
        let runs = 0;
        let nightsWithAsk = 0;
        for (const step of steps) {
          const before = nextNightly(ROME, now) ?? Number.POSITIVE_INFINITY;
          now += step;
          if (before <= now) nightsWithAsk += 1;
          const decision = nightly(ROME, state, now);
          state = decision.state;
          if (decision.start !== null) runs += 1;
          expect(nightly(ROME, state, now).start).toBeNull();
        }
        expect(now).toBe(end);
        expect(runs).toBe(nightsWithAsk);
      }),
    );
  });
});

test('a run ends its window after the slot it began for, however late it began', () => {
  const six = 6 * 3600;
  expect(deadlineOf(ROME, at('2027-03-04T04:00') + 20_000, six)).toBe(at('2027-03-04T10:00'));
  expect(deadlineOf(ROME, at('2027-03-04T12:00'), six)).toBe(at('2027-03-04T17:55'));
});
