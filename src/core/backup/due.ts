import type { Instant } from '../model.ts';
import { dateAnew, type JobState, type KeptShelf, type Start } from './due-state.ts';
import { type ExposureTime, exposureReaches } from './exposure-time.ts';
import { lastSlot, nextSlot, type Timetable } from './slots.ts';

/*
 * When a backup starts by itself. The first line that holds gives the reason, and the shelves that are there and that it holds for:
 *
 *   nightly        a slot came, ten minutes ago at most             ends with its window
 *   catch-up       an older slot, or one that the clocks skipped: one run for all of them, however often the shelf was away
 *   retry          the last run failed, and its pause is over       ends with the window it began in
 *   card-finished  footage came after the last start                waits for quiet
 *   exposure       1 TB h of exposed footage                        waits for quiet
 *                  4 TB h
 *   age            the oldest exposed footage is 12 h old
 *
 * The last four are for shelves that lack something; a night is also for reading again what is there. Exposure and age rest for an hour
 * after a run, and until the next slot when it was stopped: what it left continues next night. Whatever the reason, nothing starts while
 * playback needs the disk or others saturate the volume. A shelf whose run failed is left alone until its pause is over.
 */

/** One job, as configured. `table` is of its `nightly`. */
export interface Job {
  table: Timetable;
  windowSeconds: number;
}

/** What is seen of a job's surroundings. */
export interface DueSeen {
  shelves: ShelfSeen[];
  /** Of the volume; `null`: not known. */
  exposed: ExposureTime | null;
  /** When footage last came; `null`: none that is known. */
  footageCameAt: Instant | null;
  /** Nothing has come to the volume since; `null`: something is coming now. */
  quietSince: Instant | null;
  /** What keeps a run from beginning. */
  hindrance: Hindrance | null;
}

/** Somebody plays from the volume and needs what it gives; or others ask for more than it gives. */
export type Hindrance = 'playback' | 'volume-saturated';

/** A shelf of the job. */
export interface ShelfSeen {
  name: string;
  isThere: boolean;
  /** What the volume has and this shelf lacks; `null`: not counted. */
  lacksBytes: number | null;
  /** When it was last seen to lack nothing; `null`: not seen. */
  hadAllAt: Instant | null;
}

export type WaitReason =
  | 'running'
  | 'shelf-absent'
  | 'waits-to-retry'
  | Hindrance
  | 'footage-arriving'
  | 'waits-for-quiet'
  | 'continues-next-night'
  | 'not-due';

export type Decision = Start | { do: 'wait'; reason: WaitReason };

/** So long nothing has come: it is quiet. People change cards in less (common practice, no source). */
export const QUIET_MS = 10 * 60_000;
/** A slot that has no run by then was missed. */
const ON_TIME_MS = 10 * 60_000;
export const QUIET_TB_HOURS = 1;
export const ANY_TIME_TB_HOURS = 4;
const OLDEST_MS = 12 * 3_600_000;
const REST_MS = 3_600_000;

/** What is to be done now. Asking changes nothing: what was done is told to `noteJob`. */
export function decide(job: Job, kept: JobState, seen: DueSeen, now: Instant): Decision {
  const state = dateAnew(kept, now);
  if (state.run !== null) return wait('running');
  const there = seen.shelves.filter(({ isThere }) => isThere);
  if (there.length === 0) return wait('shelf-absent');
  const shelves = there.filter(({ name }) => !isBackingOff(state.shelves[name], now));
  if (shelves.length === 0) return wait('waits-to-retry');
  const found = findTrigger(job, state, { ...seen, shelves }, now);
  if (typeof found === 'string') return wait(found);
  return seen.hindrance === null ? { do: 'start', ...found } : wait(seen.hindrance);
}

function wait(reason: WaitReason): Decision {
  return { do: 'wait', reason };
}

function isBackingOff(shelf: KeptShelf | undefined, now: Instant): boolean {
  return shelf !== undefined && shelf.failure !== null && now < shelf.failure.retryAt;
}

type Trigger = Omit<Start, 'do'>;

/** The first line of the table that holds, or why none does. `seen`: with the shelves that may be tried. */
function findTrigger(job: Job, state: JobState, seen: DueSeen, now: Instant): Trigger | WaitReason {
  return slotTrigger(job, state, seen, now) ?? retryTrigger(state, seen, now) ?? footageTrigger(job, state, seen, now);
}

function slotTrigger({ table, windowSeconds }: Job, state: JobState, seen: DueSeen, now: Instant): Trigger | null {
  const slot = lastSlot(table, now);
  if (slot === null) return null;
  const owing = seen.shelves.filter(({ name }) => slot.at > (state.shelves[name]?.doneTo ?? now));
  if (owing.length === 0) return null;
  const isNightly = now - slot.at <= ON_TIME_MS && !slot.isInGap;
  const ends = slot.at + windowSeconds * 1000;
  return { reason: isNightly ? 'nightly' : 'catch-up', shelves: namesOf(owing), until: now < ends ? ends : null };
}

function retryTrigger(state: JobState, seen: DueSeen, now: Instant): Trigger | null {
  const failed = seen.shelves.filter(({ name }) => (state.shelves[name]?.failure ?? null) !== null);
  if (failed.length === 0) return null;
  const ends = Math.max(...failed.map(({ name }) => state.shelves[name]?.failure?.until ?? 0));
  return { reason: 'retry', shelves: namesOf(failed), until: now < ends ? ends : null };
}

/** The footage itself asks for it: some that came, or what is exposed. */
function footageTrigger(job: Job, state: JobState, seen: DueSeen, now: Instant): Trigger | WaitReason {
  const lacking = seen.shelves.filter(({ lacksBytes }) => lacksBytes !== 0);
  if (lacking.length === 0) return 'not-due';
  const restsUntil = restOf(job, state);
  const isResting = restsUntil !== null && now < restsUntil;
  const reached = (hours: number) =>
    isResting ? [] : lacking.filter((shelf) => isPast(shelfReaches(shelf, state, seen, hours), now));
  const old = isResting ? [] : lacking.filter((shelf) => isPast(oldAt(shelf, state, seen), now));
  const anew = lacking.filter(({ name }) => isNewTo(seen, state.shelves[name]?.doneTo ?? now, now));
  const lines = [
    { reason: 'card-finished', shelves: anew, needsQuiet: true },
    { reason: 'exposure', shelves: reached(QUIET_TB_HOURS), needsQuiet: true },
    { reason: 'exposure', shelves: reached(ANY_TIME_TB_HOURS), needsQuiet: false },
    { reason: 'age', shelves: old, needsQuiet: false },
  ] as const;
  const holding = lines.filter(({ shelves }) => shelves.length > 0);
  const first = holding.find(({ needsQuiet }) => !needsQuiet || isQuiet(seen, now));
  if (first !== undefined) return { reason: first.reason, shelves: namesOf(first.shelves), until: null };
  if (holding.length > 0) return seen.quietSince === null ? 'footage-arriving' : 'waits-for-quiet';
  return isResting && state.lastEnd?.how === 'stopped' ? 'continues-next-night' : 'not-due';
}

function isNewTo({ footageCameAt }: DueSeen, doneTo: Instant, now: Instant): boolean {
  return footageCameAt !== null && footageCameAt <= now && footageCameAt > doneTo;
}

function isQuiet({ quietSince }: DueSeen, now: Instant): boolean {
  return quietSince !== null && now - quietSince >= QUIET_MS;
}

/** When the oldest that a shelf lacks will be 12 h old; `null`: never, nothing is exposed, or it is not known. */
export function oldAt(shelf: ShelfSeen, state: JobState, { exposed }: DueSeen): Instant | null {
  if (exposed === null || exposed.bytes <= 0 || exposed.since === null) return null;
  return Math.max(exposed.since, newerThan(shelf, state)) + OLDEST_MS;
}

/**
 * When what is exposed, and a shelf lacks, comes to so many terabyte hours; `null`: never, or it is not known. What stays exposed because
 * another shelf is away does not count for one that has it: what it lacks came after its last run, and after it was seen to have all.
 */
export function shelfReaches(shelf: ShelfSeen, state: JobState, { exposed }: DueSeen, hours: number): Instant | null {
  if (exposed === null) return null;
  const all = exposureReaches(exposed, hours);
  const since = newerThan(shelf, state);
  if (all === null || since === Number.NEGATIVE_INFINITY || shelf.lacksBytes === null) return all;
  const own = { at: since, bytes: shelf.lacksBytes, since, byteSeconds: 0 };
  const mine = exposureReaches(own, hours);
  return mine === null ? null : Math.max(all, mine);
}

/** All that was there then is on the shelf. */
function newerThan({ name, hadAllAt }: ShelfSeen, { shelves }: JobState): Instant {
  const { lastStart = null, lastSuccess = null } = shelves[name] ?? {};
  const isDone = lastStart !== null && lastSuccess !== null && lastSuccess >= lastStart;
  return Math.max(isDone ? lastStart : Number.NEGATIVE_INFINITY, hadAllAt ?? Number.NEGATIVE_INFINITY);
}

function namesOf(shelves: readonly ShelfSeen[]): string[] {
  return shelves.map(({ name }) => name);
}

/** What is exposed starts nothing before: the last run did what it could, or was stopped for the day. */
export function restOf({ table }: Job, { lastEnd }: JobState): Instant | null {
  if (lastEnd === null) return null;
  return lastEnd.how === 'stopped' ? (nextSlot(table, lastEnd.at)?.at ?? null) : lastEnd.at + REST_MS;
}

function isPast(at: Instant | null, now: Instant): boolean {
  return at !== null && at <= now;
}
