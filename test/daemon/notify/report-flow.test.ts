import { expect, test } from 'vitest';
import type { ReportMessage, ReportQueuePort } from '../../../src/core/notify/queue-port.ts';
import type { ReportPeriod } from '../../../src/core/notify/report-day.ts';
import type { Clock } from '../../../src/core/ports.ts';
import type { Report } from '../../../src/core/present/report.ts';
import { createReportFlow } from '../../../src/daemon/notify/report-flow.ts';
import { reportOfNothing } from '../../core/present/report-story.ts';
import { fakeClock } from '../../fakes/clock.ts';

const SECOND = 1_000;
const HOUR = 3_600_000;
const at = (text: string) => Temporal.Instant.from(text).epochMilliseconds;

/** Keeps days as the ledger does, and sends nothing: a test says what was sent. */
function dayBook() {
  const put: ReportMessage[] = [];
  const days = new Set<string>();
  let refuses = false;
  const sent: number[] = [];
  const queue: ReportQueuePort = {
    async reportsOf(_channel, day, now) {
      if (refuses) throw new Error('The disk of the state is full.');
      const before = sent.filter((until) => until < now);
      return { isMade: days.has(day), sentUntil: before.length === 0 ? null : Math.max(...before) };
    },
    async beginReports(_channel, day) {
      if (days.size === 0) days.add(day);
    },
    async putReport(report) {
      if (days.has(report.day)) return false;
      days.add(report.day);
      put.push(report);
      return true;
    },
  };
  return {
    queue,
    put,
    sent,
    refuse(now: boolean) {
      refuses = now;
    },
  };
}

async function stage(start: string, over: { minutes?: number; zone?: string; book?: ReturnType<typeof dayBook> } = {}) {
  const clock = fakeClock(at(start));
  const book = over.book ?? dayBook();
  const lines: string[] = [];
  const line = (level: string) => (_fields: object, text: string) => void lines.push(`${level} ${text}`);
  const periods: ReportPeriod[] = [];
  let read = true;
  let kept = 0;
  const make = async (period: ReportPeriod): Promise<Report> => {
    periods.push(period);
    return reportOfNothing(period);
  };
  const flow = createReportFlow({
    ...{ channels: [{ name: 'mail', minutes: over.minutes ?? 450 }], queue: book.queue, make, clock: clock as Clock },
    ...{ log: { debug() {}, info: line('info'), warn: line('warn'), error: line('error') }, zone: over.zone ?? 'UTC' },
    isRead: () => read,
    kept() {
      kept += 1;
    },
  });
  await flow.start();
  await clock.advance(0);
  return {
    ...{ clock, book, lines, periods, flow },
    days: () => book.put.map(({ day }) => day),
    kept: () => kept,
    reading(is: boolean) {
      read = !is;
    },
  };
}

test('each day one, in the second of its hour, from where the last one that was sent ended', async () => {
  const { clock, book, days, periods, kept, flow } = await stage('2027-03-04T22:00:00Z');
  await clock.advance(9.5 * HOUR - 1);
  expect(days()).toEqual([]);
  await clock.advance(1);
  expect(days()).toEqual(['2027-03-05']);
  expect(kept()).toBe(1);
  expect(periods[0]).toEqual({
    from: at('2027-03-04T07:30:00Z'),
    until: at('2027-03-05T07:30:00Z'),
    basis: 'report-hour',
  });
  book.sent.push(at('2027-03-05T07:30:00Z'));
  await clock.advance(48 * HOUR);
  expect(days()).toEqual(['2027-03-05', '2027-03-06', '2027-03-07']);
  // That of the sixth was not sent: the next goes on from the fifth.
  expect(periods.map(({ from }) => from).slice(1)).toEqual([at('2027-03-05T07:30:00Z'), at('2027-03-05T07:30:00Z')]);
  await flow.stop();
  await clock.advance(48 * HOUR);
  expect(days()).toHaveLength(3);
});

test('told of a channel after its hour, nobody waits for a report of that day', async () => {
  const { clock, days } = await stage('2027-03-04T15:00:00Z');
  await clock.advance(8 * HOUR);
  expect(days()).toEqual([]);
  await clock.advance(9 * HOUR);
  expect(days()).toEqual(['2027-03-05']);
});

test('a machine that slept over the hour makes up for it on the same day, once; a whole day that was slept is in the next', async () => {
  const { clock, days, periods } = await stage('2027-03-04T06:00:00Z');
  clock.jump(4 * HOUR);
  await clock.advance(61 * SECOND);
  expect(days()).toEqual(['2027-03-04']);
  expect(periods[0]?.until).toBeGreaterThanOrEqual(at('2027-03-04T10:00:00Z'));
  clock.jump(45 * HOUR);
  await clock.advance(61 * SECOND);
  expect(days()).toEqual(['2027-03-04']);
  await clock.advance(HOUR);
  expect(days()).toEqual(['2027-03-04', '2027-03-06']);
});

test('started again, and with clocks that are set back and forth, no day has a second one', async () => {
  const first = await stage('2027-03-04T07:29:00Z');
  await first.clock.advance(2 * 60 * SECOND);
  await first.flow.stop();
  const again = await stage('2027-03-04T07:31:30Z', { book: first.book });
  again.clock.jump(25 * HOUR);
  await again.clock.advance(61 * SECOND);
  again.clock.jump(-25 * HOUR);
  await again.clock.advance(24 * HOUR);
  // The one of the fifth went when the clock was a day ahead.
  expect(again.days()).toEqual(['2027-03-04', '2027-03-05']);
  await again.clock.advance(24 * HOUR);
  expect(again.days()).toEqual(['2027-03-04', '2027-03-05', '2027-03-06']);
});

// The change of clocks of the European Union, Directive 2000/84/EC: 28 March 2027 01:00 UTC, 31 October 2027 01:00 UTC.
test.each([
  ['left out', '2027-03-27T12:00:00Z', ['2027-03-28T01:00:00Z', '2027-03-29T00:30:00Z']],
  ['there twice', '2027-10-30T12:00:00Z', ['2027-10-31T00:30:00Z', '2027-11-01T01:30:00Z']],
])('where its hour is %s there is one on that day and one on the next', async (_, start, expected) => {
  const { clock, book } = await stage(start, { minutes: 150, zone: 'Europe/Rome' });
  await clock.advance(40 * HOUR);
  expect(book.put.map((one) => one.at)).toEqual(expected.map(at));
});

test('while volumes are read for the first time it waits, ten minutes at the most', async () => {
  const { clock, days, reading } = await stage('2027-03-04T07:29:30Z');
  reading(true);
  await clock.advance(5 * 60 * SECOND);
  expect(days()).toEqual([]);
  reading(false);
  await clock.advance(3 * SECOND);
  expect(days()).toEqual(['2027-03-04']);
  const other = await stage('2027-03-04T07:29:30Z');
  other.reading(true);
  await other.clock.advance(11 * 60 * SECOND);
  expect(other.days()).toEqual(['2027-03-04']);
});

test('a ledger that refuses is told once, and the report comes when it takes it', async () => {
  const { clock, book, days, lines } = await stage('2027-03-04T07:29:00Z');
  book.refuse(true);
  await clock.advance(10 * 60 * SECOND);
  expect(days()).toEqual([]);
  expect(lines).toEqual([
    'error A report could not be made or kept, and is tried again: The disk of the state is full.',
  ]);
  book.refuse(false);
  await clock.advance(61 * SECOND);
  expect(days()).toEqual(['2027-03-04']);
});

test('its words are those of the report, in lines that a mail may have', async () => {
  const { clock, book } = await stage('2027-03-04T07:29:00Z');
  await clock.advance(61 * SECOND);
  const [{ title = '', text = '', event = null, advisory = undefined } = {}] = book.put;
  expect({ title, event, advisory }).toEqual({ title: 'Report: nothing arrived', event: 'report', advisory: null });
  expect(text).toMatch(/^Nothing arrived, and no footage is here\.\n\nThis tells of the time since the report hour/);
  expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThanOrEqual(76);
});

test('without a channel that is sent one nothing is looked at', async () => {
  const clock = fakeClock(at('2027-03-04T07:29:00Z'));
  const { queue } = dayBook();
  const none = { channels: [], queue, make: () => Promise.reject(new Error('nobody asked')), isRead: () => true };
  const log = { debug() {}, info() {}, warn() {}, error: (_: object, text: string) => Promise.reject(new Error(text)) };
  const flow = createReportFlow({ ...none, kept: () => {}, clock, log, zone: 'UTC' });
  await flow.start();
  await clock.advance(24 * HOUR);
  await flow.stop();
});
