import { expect, test } from 'vitest';
import type { DueSeen, ShelfSeen } from '../../../src/core/backup/due.ts';
import { dueNights } from '../../../src/core/backup/due-nights.ts';
import { type JobState, NEW_JOB, noteJob } from '../../../src/core/backup/due-state.ts';
import { timetable } from '../../../src/core/backup/slots.ts';
import { NOON } from '../samples.ts';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
/** 04:00 on the day of `NOON`. */
const NIGHT = NOON - 8 * HOUR;
const shelf = (over: Partial<ShelfSeen> = {}): ShelfSeen => ({
  ...{ name: 'shelf-a', isThere: true, lacksBytes: 5e11, hadAllAt: null },
  ...over,
});

/** The last run to the shelf began at `doneTo`. */
function night(doneTo: number, at = NOON, over: Partial<ShelfSeen> = {}, seen: Partial<DueSeen> = {}) {
  const job = { table: timetable('0 4 * * *', 'UTC'), windowSeconds: 6 * 3600 };
  const opened = noteJob(NEW_JOB, { type: 'opened', shelves: ['shelf-a'] }, doneTo);
  const around = { exposed: null, footageCameAt: null, quietSince: at, hindrance: null };
  const [found] = dueNights({ job, state: opened, seen: { ...around, shelves: [shelf(over)], ...seen } }, at);
  return found;
}

test('a shelf owes the nights since the last run to it began', () => {
  expect(night(NIGHT + 1)).toMatchObject({ missed: null, windowEndsAt: null, nextAt: NIGHT + DAY });
  expect(night(NIGHT - HOUR)).toMatchObject({ missed: { first: NIGHT, last: NIGHT }, windowEndsAt: NIGHT + 6 * HOUR });
  expect(night(NIGHT - 3 * DAY + 1)?.missed).toEqual({ first: NIGHT - 2 * DAY, last: NIGHT });
});

test('why none begins is that of this shelf alone', () => {
  expect(night(NIGHT - HOUR, NOON, { isThere: false })?.wait).toBe('shelf-absent');
  expect(night(NIGHT - HOUR, NOON, {}, { hindrance: 'playback' })?.wait).toBe('playback');
  // One begins with this very look.
  expect(night(NIGHT - HOUR)?.wait).toBeNull();
});

test('one that is under way has begun', () => {
  const state: JobState = noteJob(
    noteJob(NEW_JOB, { type: 'opened', shelves: ['shelf-a'] }, NIGHT - HOUR),
    { type: 'started', start: { do: 'start', reason: 'nightly', shelves: ['shelf-a'], until: null } },
    NIGHT,
  );
  const job = { table: timetable('0 4 * * *', 'UTC'), windowSeconds: 3600 };
  const seen = { shelves: [shelf()], exposed: null, footageCameAt: null, quietSince: NOON, hindrance: null };
  expect(dueNights({ job, state, seen }, NOON)).toMatchObject([{ missed: null, wait: null }]);
});

test('what a clock that was far ahead has dated does not make it owe the nights of decades', () => {
  expect(night(NOON + 400 * DAY)?.missed).toEqual({ first: NIGHT, last: NIGHT });
});
