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
    shelves: [{ name: 'shelf-a', isThere: true, lacksBytes: 1e11, hadAllAt: null }],
    exposed: { at: now, bytes: 1e11, since, byteSeconds: 1e11 * 3600 },
    footageCameAt: null,
    quietSince: since,
    hindrance: null,
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
const AWAY = { shelves: [{ name: 'shelf-a', isThere: false, lacksBytes: 1e11, hadAllAt: null }] };
const SHELF = { name: 'shelf-a', isThere: true, lacksBytes: 1e11, hadAllAt: null };
const NOTHING = { shelves: [{ name: 'shelf-a', isThere: true, lacksBytes: 0, hadAllAt: null }] };
/** Something is coming now. */
const COMING = { quietSince: null };

// By day: the last slot was before the shelf was one of the job.
const byDay = noteJob(NEW_JOB, { type: 'opened', shelves: ['shelf-a'] }, SLOT);
const NOW = at('12:00');

describe('the table', () => {
  test.each<[string, string, number, Partial<DueSeen>, JobState]>([
    ['a slot', 'nightly', SLOT, {}, opened],
    ['a slot ten minutes ago', 'nightly', SLOT + 10 * MINUTE, {}, opened],
    ['a slot eleven minutes ago', 'catch-up', SLOT + 11 * MINUTE, {}, opened],
    ['a slot three days ago', 'catch-up', SLOT + 3 * DAY + HOUR, {}, opened],
    ['a slot, and nothing to copy: what is there is read again', 'nightly', SLOT, NOTHING, opened],
    [
      'footage, ten quiet minutes ago',
      'card-finished',
      NOW,
      { footageCameAt: NOW - 10 * MINUTE, quietSince: NOW - 10 * MINUTE },
      byDay,
    ],
    ['and little of it', 'card-finished', NOW, { footageCameAt: NOW - HOUR, exposed: null }, byDay],
    ['1 TB h, quiet', 'exposure', NOW, { exposed: exposed(NOW, 1) }, byDay],
    ['4 TB h, not quiet', 'exposure', NOW, { exposed: exposed(NOW, 4), ...COMING }, byDay],
    ['footage of 12 hours ago', 'age', NOW, { exposed: exposed(NOW, 0.1, 12), ...COMING }, byDay],
  ])('%s: it starts, %s', (_, reason, now, changed, state) => {
    expect(startAt(now, changed, state)).toMatchObject({ do: 'start', reason, shelves: ['shelf-a'] });
  });

  test.each<[string, string, number, Partial<DueSeen>, JobState]>([
    ['the shelf is away', 'shelf-absent', SLOT, AWAY, opened],
    ['nothing is due', 'not-due', NOW, {}, byDay],
    [
      'much is exposed, and no shelf lacks anything',
      'not-due',
      NOW,
      { ...NOTHING, exposed: exposed(NOW, 9, 20) },
      byDay,
    ],
    ['somebody plays at the slot', 'playback', SLOT, { hindrance: 'playback' }, opened],
    [
      'others saturate the volume',
      'volume-saturated',
      NOW,
      { exposed: exposed(NOW, 9), hindrance: 'volume-saturated' },
      byDay,
    ],
    [
      'footage, nine quiet minutes ago',
      'waits-for-quiet',
      NOW,
      { footageCameAt: NOW - HOUR, quietSince: NOW - 9 * MINUTE },
      byDay,
    ],
    ['more arrives', 'footage-arriving', NOW, { footageCameAt: NOW - HOUR, ...COMING }, byDay],
    ['1 TB h, not quiet', 'footage-arriving', NOW, { exposed: exposed(NOW, 3.9), ...COMING }, byDay],
    ['just under 1 TB h', 'not-due', NOW, { exposed: exposed(NOW, 0.999) }, byDay],
    ['just under 12 hours', 'not-due', NOW, { exposed: exposed(NOW, 0.1, 11.99) }, byDay],
    ['nobody knows what is exposed', 'not-due', NOW, { exposed: null }, byDay],
    ['footage that was there when the last run began', 'not-due', NOW, { footageCameAt: SLOT }, byDay],
    ['footage dated by a clock that was ahead', 'not-due', NOW, { footageCameAt: NOW + 1 }, byDay],
    ['a shelf that is new waits for its first night', 'not-due', SLOT - DAY + HOUR, {}, opened],
  ])('%s: it does not, %s', (_, reason, now, changed, state) => {
    expect(decide(job, state, seenAt(now, changed), now)).toEqual({ do: 'wait', reason });
  });
});

describe('a run', () => {
  const running = noteJob(opened, { type: 'started', start: startAt(SLOT) }, SLOT);

  test('goes on, whatever else is due', () => {
    expect(reasonAt(SLOT + HOUR, { exposed: exposed(SLOT + HOUR, 9, 20) }, running)).toBe('running');
    expect(reasonAt(SLOT + DAY, {}, running)).toBe('running');
  });

  test('that came late ends with the window of its slot; after that with nothing but itself', () => {
    expect(startAt(SLOT + 5 * MINUTE).until).toBe(SLOT + 6 * HOUR);
    expect(startAt(SLOT + 5 * HOUR).until).toBe(SLOT + 6 * HOUR);
    expect(startAt(SLOT + 6 * HOUR).until).toBeNull();
  });

  test('that somebody asked for counts as one when it is done, and as none when it failed', () => {
    const failed = ended(SLOT, SLOT + MINUTE, 'failed');
    const asked = (how: RunEnd) =>
      noteJob(failed, { type: 'asked', shelf: 'shelf-a', startedAt: SLOT + 2 * MINUTE, how }, SLOT + 3 * MINUTE);
    expect(reasonAt(SLOT + HOUR, {}, asked('done'))).toBe('not-due');
    expect(asked('done').shelves['shelf-a']).toMatchObject({ failure: null, lastSuccess: SLOT + 3 * MINUTE });
    expect(asked('failed')).toBe(failed);
    expect(reasonAt(SLOT + HOUR, {}, failed)).toBe('retry');
  });

  test('that went well has all that was there: what another shelf lacks counts neither by age nor by how much it is', () => {
    const done = ended(SLOT, SLOT + HOUR, 'done');
    const much = { exposed: exposed(NOW, 90, 200) };
    // It lacks 100 GB, of nine hours at most: .9 TB h.
    expect(reasonAt(NOW, much, done)).toBe('not-due');
    expect(reasonAt(NOW + HOUR, much, done)).toBe('exposure');
    expect(nextBackup(job, done, seenAt(NOW, much), NOW)).toMatchObject({ at: NOW + HOUR, reason: 'exposure' });
    const little = { ...much, shelves: [{ ...SHELF, lacksBytes: 1e9 }] };
    expect(reasonAt(SLOT + 12 * HOUR - 1, little, done)).toBe('not-due');
    expect(reasonAt(SLOT + 12 * HOUR, little, done)).toBe('age');
    const seenWhole = { ...much, shelves: [{ ...SHELF, lacksBytes: 1e9, hadAllAt: NOW }] };
    expect(reasonAt(SLOT + 12 * HOUR, seenWhole, done)).toBe('not-due');
    expect(nextBackup(job, done, seenAt(NOW, seenWhole), NOW)).toMatchObject({ at: NOW + 12 * HOUR, reason: 'age' });
  });

  test('that was stopped continues next night, whatever is exposed; a new card does not wait', () => {
    const stopped = ended(SLOT, SLOT + 6 * HOUR, 'stopped');
    const much = { exposed: exposed(NOW, 9, 20) };
    expect(reasonAt(NOW, much, stopped)).toBe('continues-next-night');
    expect(reasonAt(NOW, { ...much, footageCameAt: NOW - HOUR }, stopped)).toBe('card-finished');
    expect(reasonAt(SLOT + DAY, much, stopped)).toBe('nightly');
    expect(nextBackup(job, stopped, seenAt(NOW, much), NOW)).toEqual({
      at: SLOT + DAY,
      reason: 'nightly',
      heldBy: null,
    });
  });

  test('that could not help what is exposed rests for an hour', () => {
    const old = { exposed: exposed(NOW, 9, 20), shelves: [{ ...SHELF, lacksBytes: null }] };
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
    const both = (now: number): Partial<DueSeen> => ({
      shelves: ['shelf-a', 'shelf-b'].map((name) => ({
        name,
        isThere: true,
        lacksBytes: now / 1e3,
        hadAllAt: null,
      })),
    });
    const start = startAt(SLOT, both(SLOT), two);
    expect(start.shelves).toEqual(['shelf-a', 'shelf-b']);
    const began = noteJob(two, { type: 'started', start }, SLOT);
    const half = noteJob(began, { type: 'ended', shelves: { 'shelf-a': 'done', 'shelf-b': 'failed' } }, SLOT + HOUR);
    expect(half.lastEnd?.how).toBe('failed');
    const soon = SLOT + HOUR + MINUTE;
    expect(startAt(soon, { ...both(soon), footageCameAt: SLOT + MINUTE }, half)).toMatchObject({
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
    expect(startAt(now).reason).toBe('catch-up');
    const caughtUp = ended(now, now + HOUR, 'done');
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
      { footageCameAt: NOW - HOUR, quietSince: NOW - MINUTE },
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
    expect(next(SLOT, { hindrance: 'playback' }, opened)).toEqual({ at: SLOT, reason: 'nightly', heldBy: 'playback' });
    expect(next(SLOT, { hindrance: 'volume-saturated' }, opened)?.heldBy).toBe('volume-saturated');
    expect(next(SLOT, {}, opened)?.heldBy).toBeNull();
  });

  test('after a failure, when its pause is over', () => {
    const failed = ended(SLOT, SLOT + HOUR, 'failed');
    expect(next(SLOT + HOUR, {}, failed)).toEqual({ at: SLOT + 75 * MINUTE, reason: 'retry', heldBy: null });
  });

  test('cannot be told while no shelf is there; of one that is there and lacks nothing, the slot', () => {
    expect(next(NOW, AWAY)).toBeNull();
    const other = { name: 'shelf-b', isThere: true, lacksBytes: 0, hadAllAt: null };
    const two = noteJob(byDay, { type: 'opened', shelves: ['shelf-b'] }, NOW);
    expect(next(NOW, { shelves: [...AWAY.shelves, other] }, two)?.at).toBe(SLOT + DAY);
  });

  test('is the slot after, while a run goes on; a skipped one is a catch-up', () => {
    const running = noteJob(opened, { type: 'started', start: startAt(SLOT) }, SLOT);
    expect(next(SLOT + HOUR, {}, running)).toEqual({ at: SLOT + DAY, reason: 'nightly', heldBy: null });
    const gap = { ...job, table: timetable('30 2 * * *', 'Europe/Rome') };
    const eve = Date.parse('2027-03-27T12:00Z');
    const fresh = noteJob(NEW_JOB, { type: 'opened', shelves: ['shelf-a'] }, eve);
    expect(nextBackup(gap, fresh, seenAt(eve, NOTHING), eve)).toMatchObject({
      at: Date.parse('2027-03-28T01:00Z'),
      reason: 'catch-up',
    });
  });
});
