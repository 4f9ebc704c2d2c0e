import type { Instant } from '../model.ts';
import {
  ANY_TIME_TB_HOURS,
  type Decision,
  type DueSeen,
  decide,
  type Job,
  OLDEST_MS,
  QUIET_MS,
  QUIET_TB_HOURS,
  restOf,
} from './due.ts';
import { dateAnew, type JobState, type StartReason } from './due-state.ts';
import { exposureAt, exposureReaches } from './exposure-time.ts';
import { nextSlot, type Slot } from './slots.ts';

/** The next backup, by what is known. */
export interface NextBackup {
  at: Instant;
  reason: StartReason;
  /** It is due, and waits for others to be done with the disk. */
  heldBy: 'playback' | 'volume-saturated' | null;
}

/**
 * The earliest instant at which the job starts, if nothing comes, nobody plays and every shelf stays where it is: the moments at which
 * time alone changes something, each asked of `decide`. `null`: none can be told, no shelf is there. A run that goes on is not the
 * next, and of what it will have done nothing is assumed: the next is the slot after.
 */
export function nextBackup(job: Job, kept: JobState, seen: DueSeen, now: Instant): NextBackup | null {
  if (!seen.shelves.some(({ isThere }) => isThere)) return null;
  const state = dateAnew(kept, now);
  const present = decide(job, state, seen, now);
  const slot = nextSlot(job.table, now);
  if (present.do !== 'start' && present.do !== 'wait') return planned(slot);
  if (isForNewFootage(present)) return planned(slot);
  const free: DueSeen = { ...seen, isPlaying: false, isSaturated: false };
  for (const at of moments(job, state, seen, now)) {
    const then = decide(job, state, { ...free, exposed: seen.exposed && exposureAt(seen.exposed, at) }, at);
    if (then.do === 'start') return { at, reason: then.reason, heldBy: at === now ? holdOf(present) : null };
  }
  return null;
}

/** Shelves that are there lack nothing: they will be copied to when something comes. */
function isForNewFootage(present: Decision): boolean {
  return present.do === 'wait' && (present.reason === 'nothing-to-copy' || present.reason === 'shelf-absent');
}

function planned(slot: Slot | null): NextBackup | null {
  return slot === null ? null : { at: slot.at, reason: slot.isInGap ? 'catch-up' : 'nightly', heldBy: null };
}

function holdOf(present: Decision): NextBackup['heldBy'] {
  if (present.do !== 'wait') return null;
  return present.reason === 'playback' || present.reason === 'volume-saturated' ? present.reason : null;
}

/** In order: now, and every later instant at which a line of the table may come to hold. */
function moments(job: Job, state: JobState, seen: DueSeen, now: Instant): Instant[] {
  const { exposed, quietSince } = seen;
  const retries = Object.values(state.shelves).map(({ failure }) => failure?.retryAt ?? null);
  const slots = [now, ...retries].map((from) => (from === null ? null : (nextSlot(job.table, from)?.at ?? null)));
  const later = [
    ...slots,
    ...retries,
    restOf(job, state),
    quietSince === null ? null : quietSince + QUIET_MS,
    exposed === null ? null : exposureReaches(exposed, QUIET_TB_HOURS),
    exposed === null ? null : exposureReaches(exposed, ANY_TIME_TB_HOURS),
    exposed === null || exposed.since === null ? null : exposed.since + OLDEST_MS,
  ].filter((at): at is Instant => at !== null && at > now);
  return [now, ...later.sort((one, other) => one - other)];
}
