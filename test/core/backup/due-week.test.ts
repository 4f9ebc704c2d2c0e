import { describe, expect, test } from 'vitest';
import { timetable } from '../../../src/core/backup/slots.ts';
import { type Days, passDays } from './job-days.ts';

const ZONE = 'Europe/Rome';
const SIX_HOURS = 6 * 3600;
/** What the clocks in Rome show, as "22 04:00" in March 2027. */
const shown = (at: number) => {
  const time = Temporal.Instant.fromEpochMilliseconds(at).toZonedDateTimeISO(ZONE);
  return `${time.day} ${time.toPlainTime().toString({ smallestUnit: 'minute' })}`;
};
const at = (day: number, time: string) =>
  Temporal.PlainDateTime.from(`2027-03-${day}T${time}`).toZonedDateTime(ZONE).epochMilliseconds;
/** Each evening at nine 50 GB come, which an hour later are .05 TB h. */
const evenings = (first: number, last: number) =>
  Array.from({ length: last - first + 1 }, (_, day) => ({ at: at(first + day, '21:00'), bytes: 50e9 }));

const told = (days: Days) =>
  passDays(days).starts.map((start) => [
    shown(start.at),
    start.reason,
    start.shelves.join(' '),
    Number(start.tbHours.toFixed(6)),
  ]);

// Summer time begins on 28 March 2027 at 02:00 (Directive 2000/84/EC). A run takes half an hour; what is exposed has no copy at all.
describe('a week', () => {
  const week: Days = {
    job: { table: timetable('0 4 * * *', ZONE), windowSeconds: SIX_HOURS },
    from: at(21, '12:00'),
    to: at(29, '12:00'),
    shelves: { 'shelf-a': [], 'shelf-b': [[at(23, '20:00'), at(25, '20:00')]] },
    footage: evenings(21, 28),
    unasked: [
      [at(23, '03:00'), at(23, '07:00')], // the daemon is down
      [at(25, '23:00'), at(26, '08:30')], // the workstation sleeps
    ],
    runMinutes: 30,
  };

  test('one run for each night, and one for both that a shelf was at home', () => {
    expect(told(week)).toEqual([
      ['22 04:00', 'nightly', 'shelf-a shelf-b', 0.375], // .05 TB from 21:00 to 04:30
      ['23 07:00', 'catch-up', 'shelf-a shelf-b', 0.525], // to 07:30
      ['24 04:00', 'nightly', 'shelf-a', 0.375],
      ['25 04:00', 'nightly', 'shelf-a', 0.375],
      ['25 20:00', 'catch-up', 'shelf-b', 0], // nothing is without any copy
      ['26 08:30', 'catch-up', 'shelf-a shelf-b', 0.6], // to 09:00
      ['27 04:00', 'nightly', 'shelf-a shelf-b', 0.375],
      ['28 04:00', 'nightly', 'shelf-a shelf-b', 0.325], // an hour less
      ['29 04:00', 'nightly', 'shelf-a shelf-b', 0.375],
    ]);
    expect(passDays(week)).toMatchObject({ exposedBytes: 0, lackingBytes: 0 });
  });

  test('a time that the clocks skip: the first moment after, once', () => {
    const inGap = {
      ...week,
      job: { ...week.job, table: timetable('30 2 * * *', ZONE) },
      from: at(26, '12:00'),
      shelves: { 'shelf-a': [] },
      footage: evenings(26, 28),
      unasked: [],
    };
    expect(told(inGap)).toEqual([
      ['27 02:30', 'nightly', 'shelf-a', 0.3], // to 03:00
      ['28 03:00', 'catch-up', 'shelf-a', 0.275], // 02:00 is 03:00 there: five hours, and the run
      ['29 02:30', 'nightly', 'shelf-a', 0.3],
    ]);
  });

  test('a night that is too short: it stops with its window, and continues next night', () => {
    const long = {
      ...week,
      from: at(21, '12:00'),
      to: at(23, '09:00'),
      unasked: [],
      footage: evenings(21, 21),
      runMinutes: 8 * 60,
    };
    const { starts, known } = passDays({ ...long, shelves: { 'shelf-a': [] } });
    expect(starts.map((start) => [shown(start.at), start.reason, start.endsAt && shown(start.endsAt)])).toEqual([
      ['22 04:00', 'nightly', '22 10:00'],
      ['23 04:00', 'nightly', null],
    ]);
    expect(known.at(-1)?.state.run?.until).toBe(at(23, '10:00'));
  });

  test('somebody plays through the slot: it waits, and comes when they stop', () => {
    const played = {
      ...week,
      unasked: [],
      playing: [[at(22, '03:30'), at(22, '05:15')]] as const,
      to: at(22, '12:00'),
    };
    expect(told(played)).toEqual([['22 05:15', 'catch-up', 'shelf-a shelf-b', 0.4375]]);
  });

  test('a shelf that fails is tried again in 15 minutes, then in 30, and not in a loop', () => {
    const failing = [[at(22, '03:00'), at(22, '05:30')]] as const;
    const failed = { ...week, unasked: [], shelves: { 'shelf-a': [] }, failing, to: at(22, '12:00') };
    expect(told(failed).map((line) => line.slice(0, 2))).toEqual([
      ['22 04:00', 'nightly'],
      ['22 04:45', 'retry'],
      ['22 05:45', 'retry'],
    ]);
  });

  test('a lot that comes by day does not wait for the night', () => {
    const much = (bytes: number) => ({
      ...week,
      unasked: [],
      footage: [{ at: at(22, '09:00'), bytes }],
      from: at(22, '08:00'),
      to: at(22, '23:59'),
    });
    // 2 TB are 1 TB h after half an hour; 500 GB after two; 50 GB are 12 h old first.
    expect(told(much(2e12))).toEqual([['22 09:30', 'exposure', 'shelf-a shelf-b', 2]]);
    expect(told(much(5e11))).toEqual([['22 11:00', 'exposure', 'shelf-a shelf-b', 1.25]]);
    expect(told(much(5e10))).toEqual([['22 21:00', 'age', 'shelf-a shelf-b', 0.625]]);
  });
});
