import type { Instant } from '../model.ts';
import {
  ANY_TIME_TB_HOURS,
  type DueSeen,
  decide,
  type Hindrance,
  type Job,
  oldAt,
  QUIET_MS,
  QUIET_TB_HOURS,
  restOf,
  shelfReaches,
} from './due.ts';
import { dateAnew, type JobState, type StartReason } from './due-state.ts';
import { exposureAt } from './exposure-time.ts';
import { nextSlot } from './slots.ts';

/** The next backup, by what is known. */
export interface NextBackup {
  at: Instant;
  reason: StartReason;
  /** It is due, and waits for others to be done with the disk. */
  heldBy: Hindrance | null;
}

/**
 * The earliest instant at which the job starts, if nothing comes, nobody plays and every shelf stays where it is: the moments at which
 * time alone changes something, each asked of `decide`. `null`: none can be told, no shelf is there. A run that goes on is not the
 * next, and of what it will have done nothing is assumed: the next is the slot after.
 */
export function nextBackup(job: Job, kept: JobState, seen: DueSeen, now: Instant): NextBackup | null {
  if (!seen.shelves.some(({ isThere }) => isThere)) return null;
  const state = dateAnew(kept, now);
  if (state.run !== null) return planned(job, now);
  for (const at of moments(job, state, seen, now)) {
    const exposed = seen.exposed && exposureAt(seen.exposed, at);
    const then = decide(job, state, { ...seen, hindrance: null, exposed }, at);
    if (then.do === 'start') return { at, reason: then.reason, heldBy: at === now ? seen.hindrance : null };
  }
  return null;
}

function planned({ table }: Job, now: Instant): NextBackup | null {
  const slot = nextSlot(table, now);
  return slot === null ? null : { at: slot.at, reason: slot.isInGap ? 'catch-up' : 'nightly', heldBy: null };
}

/** In order: now, and every later instant at which a line of the table may come to hold. */
function moments(job: Job, state: JobState, seen: DueSeen, now: Instant): Instant[] {
  const { quietSince } = seen;
  const retries = Object.values(state.shelves).map(({ failure }) => failure?.retryAt ?? null);
  const slots = [now, ...retries].map((from) => (from === null ? null : (nextSlot(job.table, from)?.at ?? null)));
  const later = [
    ...slots,
    ...retries,
    restOf(job, state),
    quietSince === null ? null : quietSince + QUIET_MS,
    ...seen.shelves.flatMap((shelf) => [
      shelfReaches(shelf, state, seen, QUIET_TB_HOURS),
      shelfReaches(shelf, state, seen, ANY_TIME_TB_HOURS),
      oldAt(shelf, state, seen),
    ]),
  ].filter((at): at is Instant => at !== null && at > now);
  return [now, ...later.sort((one, other) => one - other)];
}
