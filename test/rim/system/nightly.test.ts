import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, describe, expect, test, vi } from 'vitest';
import { decide } from '../../../src/core/backup/due.ts';
import { NEW_JOB, noteJob } from '../../../src/core/backup/due-state.ts';
import { timetable } from '../../../src/core/backup/slots.ts';
import type { Log } from '../../../src/core/ports.ts';
import { nightlyTimer } from '../../../src/rim/system/nightly.ts';

const errors: string[] = [];
const log: Log = { debug() {}, info() {}, warn() {}, error: (_, message) => void errors.push(message) };
const timer = nightlyTimer(log);
const at = (iso: string) => Date.parse(iso);

afterEach(() => {
  vi.useRealTimers();
  expect(errors.splice(0)).toEqual([]);
});

/** Lets our clock pass from one instant to another, and says when the timer woke. */
async function wakes(text: string, zone: string, from: string, to: string): Promise<string[]> {
  vi.useFakeTimers();
  vi.setSystemTime(at(from));
  const woke: string[] = [];
  const stop = timer.start(text, zone, () => void woke.push(new Date().toISOString().slice(0, 16)));
  await vi.advanceTimersByTimeAsync(at(to) - at(from));
  stop();
  return woke;
}

describe('on a clock that we turn', () => {
  test('it wakes at the slot, as the clocks of the place show it', async () => {
    const woke = await wakes('0 4 * * *', 'Europe/Rome', '2027-03-26T12:00Z', '2027-03-29T12:00Z');
    expect(woke).toEqual(['2027-03-27T03:00', '2027-03-28T02:00', '2027-03-29T02:00']);
  });

  // Our settings read more than node-cron does: a step after a number, weekdays beside days of the month.
  test('it wakes for every text that the settings accept, on other days too', async () => {
    const woke = await wakes('5/25 4 31 2 mon', 'UTC', '2027-02-28T00:00Z', '2027-03-02T00:00Z');
    expect(woke).toEqual(
      ['28', '01'].flatMap((day) =>
        ['05', '30', '55'].map((minute) => `2027-0${day === '28' ? 2 : 3}-${day}T04:${minute}`),
      ),
    );
  });

  test('what it is not given, it refuses at once', () => {
    expect(() => timer.start('0 25 * * *', 'UTC', () => {})).toThrow(RangeError);
    expect(() => timer.start('0 4 * * *', 'Europe/Atlantis', () => {})).toThrow(RangeError);
  });

  test('once stopped it is silent', async () => {
    vi.useFakeTimers();
    vi.setSystemTime(at('2027-03-04T00:00Z'));
    let woke = 0;
    timer.start('* * * * *', 'UTC', () => woke++)();
    await vi.advanceTimersByTimeAsync(600_000);
    expect(woke).toBe(0);
    expect(vi.getTimerCount()).toBe(0);
  });
});

describe('what it misses', () => {
  const job = (text: string) => ({ table: timetable(text, 'Europe/Rome'), windowSeconds: 6 * 3600 });
  const lacking = (since: number) => ({
    shelves: [{ name: 'shelf-a', isThere: true, lacksBytes: 1e9, hadAllAt: null }],
    exposed: null,
    footageCameAt: null,
    quietSince: since,
    hindrance: null,
  });

  // A sleeping machine: the wall clock goes on, the timers do not.
  test.each([
    ['a night asleep', '0 4 * * *', '2027-03-03T22:00Z', '2027-03-04T07:30Z'],
    ['a slot that the clocks skip', '30 2 * * *', '2027-03-27T22:00Z', '2027-03-28T01:00Z'],
  ])('%s is caught up by the decisions, once', async (_, text, from, to) => {
    vi.useFakeTimers();
    vi.setSystemTime(at(from));
    let woke = 0;
    const stop = timer.start(text, 'Europe/Rome', () => woke++);
    const state = noteJob(NEW_JOB, { type: 'opened', shelves: ['shelf-a'] }, at(from));
    if (text === '0 4 * * *') vi.setSystemTime(at(to));
    else await vi.advanceTimersByTimeAsync(at(to) - at(from));
    await vi.advanceTimersByTimeAsync(60_000);
    stop();
    expect(woke).toBe(0);
    const decision = decide(job(text), state, lacking(at(from)), Date.now());
    if (decision.do !== 'start') throw new Error(decision.reason);
    expect(decision.reason).toBe('catch-up');
    const after = noteJob(state, { type: 'started', start: decision }, Date.now());
    const ended = noteJob(after, { type: 'ended', shelves: { 'shelf-a': 'done' } }, Date.now());
    expect(decide(job(text), ended, lacking(at(from)), Date.now()).do).toBe('wait');
  });
});

test('on the real clock it wakes with the next minute', { timeout: 90_000 }, async () => {
  const woke = Promise.withResolvers<number>();
  const stop = timer.start('* * * * *', 'Europe/Rome', () => woke.resolve(Date.now()));
  // It does not keep a process alive by itself.
  const alive = new AbortController();
  void pause(80_000, null, { signal: alive.signal }).catch(() => null);
  const began = Date.now();
  const at = await woke.promise;
  alive.abort();
  stop();
  expect(at).toBeGreaterThan(began);
  expect(Math.floor(at / 60_000)).toBe(Math.floor(began / 60_000) + 1);
});
