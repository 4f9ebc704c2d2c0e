import { describe, expect, test } from 'vitest';
import { type DueSeen, decide, type Job } from '../../../src/core/backup/due.ts';
import { nextBackup } from '../../../src/core/backup/due-next.ts';
import { type JobState, NEW_JOB, noteJob, type RunEnd, type Start } from '../../../src/core/backup/due-state.ts';
import { timetable } from '../../../src/core/backup/slots.ts';
import { HOUR, MINUTE } from './job-days.ts';

const at = (time: string) => Date.parse(`2027-03-04T${time}:00Z`);
/** 04:00 in Rome. */
const SLOT = at('03:00');
const DAY = 24 * HOUR;
const job: Job = { table: timetable('0 4 * * *', 'Europe/Rome'), windowSeconds: 6 * 3600 };
const opened = noteJob(NEW_JOB, { type: 'opened', shelves: ['shelf-a'] }, SLOT - DAY);

/** 100 GB that came an hour before, and a shelf that lacks them. */
function seenAt(now: number, changed: Partial<DueSeen> = {}): DueSeen {
  const since = now - HOUR;
  return {
    shelves: [{ name: 'shelf-a', isThere: true, lacksBytes: 1e11, lacksSince: since }],
    exposed: { at: now, bytes: 1e11, since, byteSeconds: 1e11 * 3600 },
    cardFinishedAt: null,
    quietSince: since,
    isCardArriving: false,
    isSaturated: false,
    isPlaying: false,
    command: null,
    ...changed,
  };
}

const exposed = (now: number, tbHours: number, hoursOld = 1) => ({
  at: now,
  bytes: 1e11,
  since: now - hoursOld * HOUR,
  byteSeconds: tbHours * 3600e12,
});
const reasonAt = (now: number, changed: Partial<DueSeen> = {}, state: JobState = opened) =>
  decide(job, state, seenAt(now, changed), now).reason;
const startAt = (now: number, changed: Partial<DueSeen> = {}, state = opened): Start => {
  const decision = decide(job, state, seenAt(now, changed), now);
  if (decision.do !== 'start') throw new Error(`no start: ${decision.reason}`);
  return decision;
};
const ended = (began: number, end: number, how: RunEnd, changed: Partial<DueSeen> = {}, state = opened): JobState => {
  const started = noteJob(state, { type: 'started', start: startAt(began, changed, state) }, began);
  return noteJob(started, { type: 'ended', shelves: { 'shelf-a': how } }, end);
};
const command = { command: { anyway: false } };
const lacksOf = (lacksSince: number, isThere = true) => ({
  shelves: [{ name: 'shelf-a', isThere, lacksBytes: 1e11, lacksSince }],
});
const NOTHING = { shelves: [{ name: 'shelf-a', isThere: true, lacksBytes: 0, lacksSince: null }] };

// By day the last slot is dealt with: a run began at it.
const byDay = ended(SLOT, SLOT + HOUR, 'done');
const NOW = at('12:00');

describe('the table', () => {
  test.each<[string, string, number, Partial<DueSeen>, JobState]>([
    ['somebody asked', 'command', NOW, command, byDay],
    ['and it is not quiet', 'command', NOW, { ...command, quietSince: null, isCardArriving: true }, byDay],
    ['a slot', 'nightly', SLOT, {}, opened],
    ['a slot ten minutes ago', 'nightly', SLOT + 10 * MINUTE, {}, opened],
    ['a slot eleven minutes ago', 'catch-up', SLOT + 11 * MINUTE, {}, opened],
    ['a slot three days ago', 'catch-up', SLOT + 3 * DAY + HOUR, lacksOf(SLOT), opened],
    [
      'a card, ten quiet minutes ago',
      'card-finished',
      NOW,
      { cardFinishedAt: NOW - 30 * MINUTE, quietSince: NOW - 10 * MINUTE },
      byDay,
    ],
    [
      'and a small one',
      'card-finished',
      NOW,
      { ...lacksOf(NOW - HOUR), cardFinishedAt: NOW - HOUR, exposed: null },
      byDay,
    ],
    ['1 TB h, quiet', 'exposure', NOW, { exposed: exposed(NOW, 1) }, byDay],
    ['4 TB h, not quiet', 'exposure', NOW, { exposed: exposed(NOW, 4), quietSince: null, isCardArriving: true }, byDay],
    ['footage of 12 hours ago', 'age', NOW, { exposed: exposed(NOW, 0.1, 12), quietSince: null }, byDay],
  ])('%s: it starts, %s', (_, reason, now, changed, state) => {
    expect(startAt(now, changed, state)).toMatchObject({ do: 'start', reason, shelves: ['shelf-a'] });
  });

  test.each<[string, string, number, Partial<DueSeen>, JobState]>([
    ['all is copied', 'nothing-to-copy', SLOT, NOTHING, opened],
    ['even if somebody asked', 'nothing-to-copy', SLOT, { ...NOTHING, ...command }, opened],
    ['the shelf is away', 'shelf-absent', SLOT, lacksOf(SLOT - HOUR, false), opened],
    ['nothing is due', 'not-due', NOW, {}, byDay],
    ['footage that came after the slot is not due with it', 'not-due', SLOT + HOUR, lacksOf(SLOT + 1), opened],
    ['somebody plays at the slot', 'playback', SLOT, { isPlaying: true }, opened],
    ['somebody asked, and somebody plays', 'playback', NOW, { ...command, isPlaying: true }, byDay],
    ['others saturate the volume', 'volume-saturated', NOW, { exposed: exposed(NOW, 9), isSaturated: true }, byDay],
    [
      'a card, nine quiet minutes ago',
      'waits-for-quiet',
      NOW,
      { cardFinishedAt: NOW - HOUR, quietSince: NOW - 9 * MINUTE },
      byDay,
    ],
    ['the next card arrives', 'card-arriving', NOW, { cardFinishedAt: NOW - HOUR, isCardArriving: true }, byDay],
    ['1 TB h, not quiet', 'waits-for-quiet', NOW, { exposed: exposed(NOW, 3.9), quietSince: null }, byDay],
    ['just under 1 TB h', 'not-due', NOW, { exposed: exposed(NOW, 0.999) }, byDay],
    ['just under 12 hours', 'not-due', NOW, { exposed: exposed(NOW, 0.1, 11.99) }, byDay],
    ['nobody knows what is exposed', 'not-due', NOW, { exposed: null }, byDay],
    ['a card that was there when the last run began', 'not-due', NOW, { cardFinishedAt: SLOT }, byDay],
    ['a card dated by a clock that was ahead', 'not-due', NOW, { cardFinishedAt: NOW + 1 }, byDay],
    ['a shelf that is new waits for its first night', 'not-due', SLOT - DAY + HOUR, lacksOf(0), opened],
  ])('%s: it does not, %s', (_, reason, now, changed, state) => {
    expect(decide(job, state, seenAt(now, changed), now)).toEqual({ do: 'wait', reason });
  });

  test('"anyway" goes before whatever needs the disk, and the run does not pause either', () => {
    const busy = { command: { anyway: true }, isPlaying: true, isSaturated: true };
    const start = startAt(NOW, busy, byDay);
    expect(start.reason).toBe('command');
    const running = noteJob(byDay, { type: 'started', start }, NOW);
    expect(decide(job, running, seenAt(NOW, { isPlaying: true }), NOW + 1)).toEqual({ do: 'go-on', reason: 'running' });
  });
});

describe('a run', () => {
  const running = noteJob(opened, { type: 'started', start: startAt(SLOT) }, SLOT);

  test('goes on, pauses for others, and stops with its window', () => {
    expect(reasonAt(SLOT + HOUR, {}, running)).toBe('running');
    expect(reasonAt(SLOT + HOUR, command, running)).toBe('running');
    const playing = decide(job, running, seenAt(SLOT + HOUR, { isPlaying: true }), SLOT + HOUR);
    expect(playing).toEqual({ do: 'pause', reason: 'playback' });
    const saturated = decide(job, running, seenAt(SLOT + HOUR, { isSaturated: true }), SLOT + HOUR);
    expect(saturated).toEqual({ do: 'pause', reason: 'volume-saturated' });
    expect(decide(job, running, seenAt(SLOT + 6 * HOUR), SLOT + 6 * HOUR)).toEqual({
      do: 'stop',
      reason: 'window-over',
    });
  });

  test('that came late has no end but its own', () => {
    expect(startAt(SLOT + 5 * HOUR, lacksOf(SLOT - HOUR)).until).toBeNull();
    expect(startAt(SLOT + 5 * MINUTE).until).toBe(SLOT + 6 * HOUR);
  });

  test('that was stopped continues next night, whatever is exposed; a new card does not wait', () => {
    const stopped = ended(SLOT, SLOT + 6 * HOUR, 'stopped');
    const much = { exposed: exposed(NOW, 9, 20), ...lacksOf(SLOT - HOUR) };
    expect(reasonAt(NOW, much, stopped)).toBe('continues-next-night');
    expect(reasonAt(NOW, { ...much, cardFinishedAt: NOW - HOUR }, stopped)).toBe('card-finished');
    expect(reasonAt(SLOT + DAY, much, stopped)).toBe('nightly');
    expect(nextBackup(job, stopped, seenAt(NOW, much), NOW)).toEqual({
      at: SLOT + DAY,
      reason: 'nightly',
      heldBy: null,
    });
  });

  test('that could not help what is exposed rests for an hour', () => {
    const old = { exposed: exposed(NOW, 9, 20) };
    const done = ended(NOW - 2 * HOUR, NOW, 'done', { exposed: exposed(NOW, 9) }, byDay);
    expect(reasonAt(NOW + HOUR - 1, old, done)).toBe('not-due');
    expect(reasonAt(NOW + HOUR, old, done)).toBe('exposure');
    expect(nextBackup(job, done, seenAt(NOW, old), NOW)).toEqual({ at: NOW + HOUR, reason: 'exposure', heldBy: null });
    // An hour of a clock that was ahead is not waited for.
    expect(reasonAt(NOW - MINUTE, old, done)).toBe('exposure');
  });

  test('that failed is tried again after 15 min, 30 min, 1 h, 2 h, and then every 4 h; a success ends it', () => {
    let state = ended(SLOT, SLOT, 'failed');
    let now = SLOT;
    for (const minutes of [15, 30, 60, 120, 240, 240]) {
      expect(reasonAt(now + minutes * MINUTE - 1, { exposed: exposed(now, 9, 20) }, state)).toBe('waits-to-retry');
      now += minutes * MINUTE;
      expect(startAt(now, {}, state)).toMatchObject({
        reason: 'retry',
        until: now < SLOT + 6 * HOUR ? SLOT + 6 * HOUR : null,
      });
      state = ended(now, now, 'failed', {}, state);
    }
    expect(reasonAt(now + MINUTE, command, state)).toBe('command');
    expect(ended(now + 4 * HOUR, now + 5 * HOUR, 'done', {}, state).shelves['shelf-a']).toMatchObject({
      failure: null,
      lastStart: now + 4 * HOUR,
      lastSuccess: now + 5 * HOUR,
    });
  });

  test('that was killed with the daemon has failed; the next one begins with a pause', () => {
    const again = noteJob(running, { type: 'opened', shelves: ['shelf-a', 'shelf-b'] }, SLOT + HOUR);
    expect(again.run).toBeNull();
    expect(again.lastEnd).toEqual({ at: SLOT + HOUR, reason: 'nightly', how: 'failed' });
    expect(reasonAt(SLOT + HOUR, {}, again)).toBe('waits-to-retry');
    expect(again.shelves['shelf-b']).toMatchObject({ doneTo: SLOT + HOUR, failure: null });
    expect(noteJob(again, { type: 'ended', shelves: {} }, NOW)).toBe(again);
  });

  test('one shelf that fails does not hold the other', () => {
    const two = noteJob(NEW_JOB, { type: 'opened', shelves: ['shelf-a', 'shelf-b'] }, SLOT - DAY);
    const both = (now: number, since: number): Partial<DueSeen> => ({
      shelves: ['shelf-a', 'shelf-b'].map((name) => ({
        name,
        isThere: true,
        lacksBytes: now / 1e3,
        lacksSince: since,
      })),
    });
    const start = startAt(SLOT, both(SLOT, SLOT - HOUR), two);
    expect(start.shelves).toEqual(['shelf-a', 'shelf-b']);
    const began = noteJob(two, { type: 'started', start }, SLOT);
    const half = noteJob(began, { type: 'ended', shelves: { 'shelf-a': 'done', 'shelf-b': 'failed' } }, SLOT + HOUR);
    expect(half.lastEnd?.how).toBe('failed');
    const soon = SLOT + HOUR + MINUTE;
    expect(startAt(soon, { ...both(soon, SLOT + 1), cardFinishedAt: SLOT + MINUTE }, half)).toMatchObject({
      reason: 'card-finished',
      shelves: ['shelf-a'],
    });
  });
});

describe('clocks that jump', () => {
  test('set back a little over the slot: no second run', () => {
    for (const back of [2000, HOUR, 20 * HOUR]) {
      const done = ended(SLOT, SLOT + 1000, 'done');
      for (let now = SLOT + 1000 - back; now <= SLOT; now += HOUR) {
        expect(decide(job, done, seenAt(now), now).do).toBe('wait');
      }
      expect(decide(job, done, seenAt(SLOT), SLOT).do).toBe('wait');
    }
  });

  test('years ahead and back: the next slot has its run, and the one after', () => {
    const ahead = ended(SLOT + 3650 * DAY, SLOT + 3650 * DAY + HOUR, 'failed');
    expect(reasonAt(SLOT, {}, ahead)).toBe('nightly');
    const right = ended(SLOT, SLOT + HOUR, 'done', {}, ahead);
    expect(right.shelves['shelf-a']?.doneTo).toBe(SLOT);
    expect(reasonAt(SLOT + 2 * HOUR, {}, right)).toBe('not-due');
    expect(reasonAt(SLOT + DAY, {}, right)).toBe('nightly');
  });

  test('forward over many slots: one catch-up', () => {
    const now = SLOT + 5 * DAY + HOUR;
    expect(startAt(now, lacksOf(SLOT - HOUR)).slot).toBe(SLOT + 5 * DAY);
    const caughtUp = ended(now, now + HOUR, 'done', lacksOf(SLOT - HOUR));
    expect(reasonAt(now + HOUR, {}, caughtUp)).toBe('not-due');
  });
});

describe('the next backup', () => {
  const next = (now: number, changed: Partial<DueSeen> = {}, state = byDay) =>
    nextBackup(job, state, seenAt(now, changed), now);

  test.each<[string, Partial<DueSeen>, number, string]>([
    ['1 TB h, in ten hours', { exposed: exposed(NOW, 0, 0) }, NOW + 10 * HOUR, 'exposure'],
    ['12 hours, when little is exposed', { exposed: { ...exposed(NOW, 0, 0), bytes: 1e9 } }, NOW + 12 * HOUR, 'age'],
    ['the slot, when all is copied', NOTHING, SLOT + DAY, 'nightly'],
    [
      'when it has been quiet',
      { cardFinishedAt: NOW - HOUR, quietSince: NOW - MINUTE },
      NOW + 9 * MINUTE,
      'card-finished',
    ],
    [
      '4 TB h, while a card arrives',
      { exposed: { ...exposed(NOW, 0, 0), bytes: 1e12 }, quietSince: null },
      NOW + 4 * HOUR,
      'exposure',
    ],
  ])('%s', (_, changed, then, reason) => {
    expect(next(NOW, changed)).toEqual({ at: then, reason, heldBy: null });
  });

  test('now, but that somebody plays', () => {
    expect(next(SLOT, { isPlaying: true }, opened)).toEqual({ at: SLOT, reason: 'nightly', heldBy: 'playback' });
    expect(next(SLOT, { isSaturated: true }, opened)?.heldBy).toBe('volume-saturated');
    expect(next(SLOT, {}, opened)?.heldBy).toBeNull();
  });

  test('after a failure, when its pause is over', () => {
    const failed = ended(SLOT, SLOT + HOUR, 'failed');
    expect(next(SLOT + HOUR, {}, failed)).toEqual({ at: SLOT + 75 * MINUTE, reason: 'retry', heldBy: null });
  });

  test('cannot be told while no shelf is there; of one that is there and lacks nothing, the slot', () => {
    expect(next(NOW, lacksOf(NOW - HOUR, false))).toBeNull();
    const other = { name: 'shelf-b', isThere: true, lacksBytes: 0, lacksSince: null };
    expect(next(NOW, { shelves: [...lacksOf(NOW - HOUR, false).shelves, other] })?.at).toBe(SLOT + DAY);
  });

  test('is the slot after, while a run goes on; a skipped one is a catch-up', () => {
    const running = noteJob(opened, { type: 'started', start: startAt(SLOT) }, SLOT);
    expect(next(SLOT + HOUR, {}, running)).toEqual({ at: SLOT + DAY, reason: 'nightly', heldBy: null });
    const gap = { ...job, table: timetable('30 2 * * *', 'Europe/Rome') };
    const eve = Date.parse('2027-03-27T12:00Z');
    expect(nextBackup(gap, byDay, seenAt(eve, NOTHING), eve)).toMatchObject({
      at: Date.parse('2027-03-28T01:00Z'),
      reason: 'catch-up',
    });
  });
});
