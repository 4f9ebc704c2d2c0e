import { describe, expect, test } from 'vitest';
import { type ClockWatch, watchClock } from '../../../src/core/assess/clock-watch.ts';
import { NOON } from '../samples.ts';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;

/** Looks, one after the other: what the wall clock said, and how many seconds the machine ran. */
function watched(...looks: [number, number | null][]): ClockWatch | null {
  return looks.reduce<ClockWatch | null>((before, [now, uptime]) => watchClock(before, now, uptime), null);
}

describe('a clock that was set', () => {
  test('is told with when and by how much, forward and back', () => {
    expect(watched([NOON, 100], [NOON + 30_000 + HOUR, 130])?.jump).toEqual({ at: NOON + 30_000 + HOUR, byMs: HOUR });
    expect(watched([NOON, 100], [NOON + 30_000 - HOUR, 130])?.jump).toEqual({ at: NOON + 30_000 - HOUR, byMs: -HOUR });
  });

  test('sleep is none, for the other clock counts it; neither is a change to summer time, of which both know nothing', () => {
    expect(watched([NOON, 100], [NOON + 8 * HOUR, 100 + 8 * 3600])?.jump).toBeNull();
    // 2027-03-28T01:00Z, when clocks in Europe go forward by an hour (Directive 2000/84/EC).
    const change = Date.UTC(2027, 2, 28, 1);
    expect(watched([change - 10_000, 100], [change + 10_000, 120])?.jump).toBeNull();
  });

  test('small steps and a clock that is drawn along are none: 500 ppm are 1.8 s in an hour (adjtimex(2))', () => {
    expect(watched([NOON, 100], [NOON + 30_000 + 59_000, 130])?.jump).toBeNull();
    const looks = Array.from({ length: 2_000 }, (_, at): [number, number] => [NOON + at * 30_015, 100 + at * 30]);
    expect(watched(...looks)?.jump).toBeNull();
  });

  test('several add up; one that is put right again is over', () => {
    const set: [number, number][] = [
      [NOON, 0],
      [NOON + 2 * HOUR, 60],
    ];
    expect(watched(...set, [NOON + 5 * HOUR, 120])?.jump?.byMs).toBe(5 * HOUR - 120_000);
    expect(watched(...set, [NOON + 120_000, 120])?.jump).toBeNull();
  });

  test('is of interest for a day', () => {
    const set: [number, number][] = [
      [NOON, 0],
      [NOON + HOUR, 60],
    ];
    const later = (ms: number): [number, number] => [NOON + HOUR + ms, 60 + ms / 1000];
    expect(watched(...set, later(DAY - 1000))?.jump).not.toBeNull();
    expect(watched(...set, later(DAY))?.jump).toBeNull();
  });

  test('a machine that tells nothing is none', () => {
    expect(watched([NOON, null], [NOON + HOUR, null])).toBeNull();
    expect(watched([NOON, 100], [NOON + HOUR, null], [NOON + 30_000, 130])?.jump).toBeNull();
  });
});
