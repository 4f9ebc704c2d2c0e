import { describe, expect, test } from 'vitest';
import { type EarlySeen, type EarlyState, early } from '../../../src/core/backup/early.ts';
import { NOON } from '../samples.ts';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const SEEN: EarlySeen = { exposedBytes: 6e10, exposedSince: NOON, isArriving: false, lastBegun: null };

/** Asks every minute with what is seen then; a backup that begins is begun. */
function play(minutes: number, seenAt: (minute: number) => Partial<EarlySeen>, begunBefore: number | null = null) {
  let state: EarlyState | null = null;
  let lastBegun = begunBefore;
  const begun: string[] = [];
  for (let minute = 0; minute <= minutes; minute++) {
    const now = NOON + minute * MINUTE;
    const decision = early(state, { ...SEEN, lastBegun, ...seenAt(minute) }, now);
    state = decision.state;
    if (decision.start === null) continue;
    begun.push(`${minute} ${decision.start}`);
    lastBegun = now;
  }
  return begun;
}

describe('a backup before the night', () => {
  test('begins ten quiet minutes after the last of a card, however small it is, and once', () => {
    expect(play(120, (minute) => ({ isArriving: minute < 30, exposedBytes: 1e6 }))).toEqual(['39 card-finished']);
  });

  test('waits while more comes, and begins again for the next card', () => {
    const cards = (minute: number) => ({ exposedBytes: minute < 5 ? 0 : minute < 12 ? 1e9 : minute < 60 ? 2e9 : 3e9 });
    expect(play(120, cards)).toEqual(['22 card-finished', '70 card-finished']);
  });

  test('not where nothing is exposed, or nothing is known', () => {
    expect(play(60, () => ({ exposedBytes: 0 }))).toEqual([]);
    expect(play(60, () => ({ exposedBytes: null }))).toEqual([]);
  });

  test('what is still exposed half a day after the last try begins another', () => {
    expect(play(30 * 60, () => ({}))).toEqual(['10 card-finished', `${10 + 12 * 60} age`, `${10 + 24 * 60} age`]);
    const covered = (minute: number) => ({ exposedBytes: minute > 60 ? 0 : 6e10 });
    expect(play(30 * 60, covered)).toEqual(['10 card-finished']);
  });

  test('a backup that began after the last of it came is enough', () => {
    expect(play(60, () => ({}), NOON + HOUR)).toEqual([]);
  });

  test('a clock that was put back begins the waiting anew', () => {
    const state = { exposedBytes: 1, busyAt: NOON + HOUR };
    expect(early(state, { ...SEEN, exposedBytes: 1 }, NOON)).toEqual({
      state: { exposedBytes: 1, busyAt: NOON },
      start: null,
    });
  });
});
