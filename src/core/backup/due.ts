import type { Instant } from '../model.ts';
import { dateAnew, type JobState, type ShelfState, type Start } from './due-state.ts';
import { type ExposureTime, exposureReaches } from './exposure-time.ts';
import { lastSlot, nextSlot, type Slot, type Timetable } from './slots.ts';

/*
 * When a backup starts. The first line that holds gives the reason, for the shelves that are there and lack something:
 *
 *   command        somebody asked
 *   nightly        a slot came, ten minutes ago at most             ends with its window
 *   catch-up       an older slot, or one that the clocks skipped: one run for all of them
 *   retry          the last run failed, and its pause is over       ends with the window it began in
 *   card-finished  a card copy ended after the last start           waits for quiet
 *   exposure       1 TB h of exposed footage                        waits for quiet
 *                  4 TB h
 *   age            the oldest exposed footage is 12 h old
 *
 * Exposure and age rest for an hour after a run, and until the next slot when it was stopped: what it left continues next night.
 * Whatever the reason, nothing starts while playback needs the disk or others saturate the volume, and a run pauses then, unless
 * the command said "anyway". A shelf whose run failed is left alone until its pause is over, but for a command.
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
  /** When the newest card copy ended; `null`: none that is known. */
  cardFinishedAt: Instant | null;
  /** Nothing has come to the volume since; `null`: something is coming now. */
  quietSince: Instant | null;
  /** A card is being copied to the volume now. */
  isCardArriving: boolean;
  /** Others than this job ask for more than the volume gives. */
  isSaturated: boolean;
  /** Somebody plays from the volume, or is about to. */
  isPlaying: boolean;
  command: Command | null;
}

/** A shelf of the job. */
export interface ShelfSeen {
  name: string;
  isThere: boolean;
  /** What the volume has and this shelf lacks. */
  lacksBytes: number;
  /** When the oldest of that came; `null`: not known. */
  lacksSince: Instant | null;
}

/** Somebody asked for a backup. `anyway`: even while others use the disk. */
export interface Command {
  anyway: boolean;
}

export type WaitReason =
  | 'nothing-to-copy'
  | 'shelf-absent'
  | 'waits-to-retry'
  | 'volume-saturated'
  | 'playback'
  | 'card-arriving'
  | 'waits-for-quiet'
  | 'continues-next-night'
  | 'not-due';

export type Decision =
  | Start
  | { do: 'wait'; reason: WaitReason }
  /** A run goes on; its copying is to be halted and taken up again, or ended. */
  | { do: 'go-on'; reason: 'running' }
  | { do: 'pause'; reason: 'playback' | 'volume-saturated' }
  | { do: 'stop'; reason: 'window-over' };

/** So long nothing has come: it is quiet. */
export const QUIET_MS = 10 * 60_000;
/** A slot that has no run by then was missed. */
const ON_TIME_MS = 10 * 60_000;
export const QUIET_TB_HOURS = 1;
export const ANY_TIME_TB_HOURS = 4;
export const OLDEST_MS = 12 * 3_600_000;
const REST_MS = 3_600_000;

/** What is to be done now. Asking changes nothing: what was done is told to `noteJob`. */
export function decide(job: Job, kept: JobState, seen: DueSeen, now: Instant): Decision {
  const state = dateAnew(kept, now);
  if (state.run !== null) return attend(state.run, seen, now);
  const lacking = seen.shelves.filter(({ lacksBytes }) => lacksBytes > 0);
  if (lacking.length === 0) return wait('nothing-to-copy');
  const there = lacking.filter(({ isThere }) => isThere);
  if (there.length === 0) return wait('shelf-absent');
  const open = there.filter(({ name }) => seen.command !== null || !isBackingOff(state.shelves[name], now));
  if (open.length === 0) return wait('waits-to-retry');
  const found = findTrigger(job, state, { ...seen, shelves: open }, now);
  if (typeof found === 'string') return wait(found);
  const anyway = seen.command?.anyway ?? false;
  const hindrance = anyway ? null : hindranceOf(seen);
  if (hindrance !== null) return wait(hindrance);
  return { do: 'start', ...found, shelves: open.map(({ name }) => name), anyway };
}

function wait(reason: WaitReason): Decision {
  return { do: 'wait', reason };
}

/** What is to be done with a run that goes on. */
function attend({ until, anyway }: { until: Instant | null; anyway: boolean }, seen: DueSeen, now: Instant): Decision {
  if (until !== null && now >= until) return { do: 'stop', reason: 'window-over' };
  const hindrance = anyway ? null : hindranceOf(seen);
  return hindrance === null ? { do: 'go-on', reason: 'running' } : { do: 'pause', reason: hindrance };
}

function hindranceOf({ isPlaying, isSaturated }: DueSeen): 'playback' | 'volume-saturated' | null {
  if (isPlaying) return 'playback';
  return isSaturated ? 'volume-saturated' : null;
}

function isBackingOff(shelf: ShelfState | undefined, now: Instant): boolean {
  return shelf !== undefined && shelf.failure !== null && now < shelf.failure.retryAt;
}

type Trigger = Pick<Start, 'reason' | 'slot' | 'until'>;

/** The first line of the table that holds, or why none does. `seen`: with the shelves that may be tried. */
function findTrigger(job: Job, state: JobState, seen: DueSeen, now: Instant): Trigger | WaitReason {
  if (seen.command !== null) return { reason: 'command', slot: null, until: null };
  return slotTrigger(job, state, seen, now) ?? retryTrigger(state, seen, now) ?? footageTrigger(job, state, seen, now);
}

function slotTrigger({ table, windowSeconds }: Job, state: JobState, seen: DueSeen, now: Instant): Trigger | null {
  const slot = lastSlot(table, now);
  if (slot === null || !seen.shelves.some((shelf) => owes(shelf, state, slot))) return null;
  const isOnTime = now - slot.at <= ON_TIME_MS;
  return {
    reason: isOnTime && !slot.isInGap ? 'nightly' : 'catch-up',
    slot: slot.at,
    until: isOnTime ? slot.at + windowSeconds * 1000 : null,
  };
}

/** Footage that lay there when the slot came did not go to the shelf since. What came later was not due then. */
function owes({ name, lacksSince }: ShelfSeen, { shelves }: JobState, slot: Slot): boolean {
  const shelf = shelves[name];
  return shelf !== undefined && slot.at > shelf.doneTo && (lacksSince ?? 0) < slot.at;
}

function retryTrigger(state: JobState, seen: DueSeen, now: Instant): Trigger | null {
  for (const { name } of seen.shelves) {
    const failure = state.shelves[name]?.failure ?? null;
    if (failure === null) continue;
    const isInWindow = failure.until !== null && now < failure.until;
    return { reason: 'retry', slot: null, until: isInWindow ? failure.until : null };
  }
  return null;
}

/** The footage itself asks for it: a card that finished, or what is exposed. */
function footageTrigger(job: Job, state: JobState, seen: DueSeen, now: Instant): Trigger | WaitReason {
  const restsUntil = restOf(job, state);
  const isResting = restsUntil !== null && now < restsUntil;
  const reached = (hours: number) =>
    !isResting && seen.exposed !== null && isPast(exposureReaches(seen.exposed, hours), now);
  const lines = [
    { reason: 'card-finished', holds: hasNewCard(seen, state, now), needsQuiet: true },
    { reason: 'exposure', holds: reached(QUIET_TB_HOURS), needsQuiet: true },
    { reason: 'exposure', holds: reached(ANY_TIME_TB_HOURS), needsQuiet: false },
    { reason: 'age', holds: !isResting && isOld(seen, now), needsQuiet: false },
  ] as const;
  const holding = lines.filter(({ holds }) => holds);
  const first = holding.find(({ needsQuiet }) => !needsQuiet || isQuiet(seen, now));
  if (first !== undefined) return { reason: first.reason, slot: null, until: null };
  if (seen.isCardArriving) return 'card-arriving';
  if (holding.length > 0) return 'waits-for-quiet';
  return isResting && state.lastEnd?.how === 'stopped' ? 'continues-next-night' : 'not-due';
}

function hasNewCard({ cardFinishedAt, shelves }: DueSeen, state: JobState, now: Instant): boolean {
  if (cardFinishedAt === null || cardFinishedAt > now) return false;
  return shelves.some(({ name }) => cardFinishedAt > (state.shelves[name]?.doneTo ?? now));
}

function isQuiet({ quietSince, isCardArriving }: DueSeen, now: Instant): boolean {
  return quietSince !== null && !isCardArriving && now - quietSince >= QUIET_MS;
}

function isOld({ exposed }: DueSeen, now: Instant): boolean {
  return exposed !== null && exposed.bytes > 0 && exposed.since !== null && now - exposed.since >= OLDEST_MS;
}

/** What is exposed starts nothing before: the last run did what it could, or was stopped for the day. */
export function restOf({ table }: Job, { lastEnd }: JobState): Instant | null {
  if (lastEnd === null) return null;
  return lastEnd.how === 'stopped' ? (nextSlot(table, lastEnd.at)?.at ?? null) : lastEnd.at + REST_MS;
}

function isPast(at: Instant | null, now: Instant): boolean {
  return at !== null && at <= now;
}
