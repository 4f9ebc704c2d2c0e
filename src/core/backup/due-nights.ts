import type { Instant } from '../model.ts';
import { type DueSeen, decide, type Job, type WaitReason } from './due.ts';
import { dateAnew, type JobState } from './due-state.ts';
import { lastSlot, nextSlot } from './slots.ts';

/** How a shelf stands to the nights of a job. */
export interface DueNight {
  shelf: string;
  isThere: boolean;
  /** `null`: not counted. */
  lacksBytes: number | null;
  /** Nights that no run to it has begun for since: the first and the last of them. `null`: it owes none. */
  missed: { first: Instant; last: Instant } | null;
  /** When the window of the last one ends. */
  windowEndsAt: Instant | null;
  /** The next one. */
  nextAt: Instant | null;
  /** Why none begins to it now; `null`: one begins, or is under way. */
  wait: WaitReason | null;
}

export interface JobNights {
  job: Job;
  state: JobState;
  seen: DueSeen;
}

/** Of each shelf of a job: the nights that it owes, and the next. */
export function dueNights({ job, state: kept, seen }: JobNights, now: Instant): DueNight[] {
  const state = dateAnew(kept, now);
  const last = lastSlot(job.table, now);
  const nextAt = nextSlot(job.table, now)?.at ?? null;
  return seen.shelves.map((shelf) => {
    const doneTo = state.shelves[shelf.name]?.doneTo ?? now;
    const isOwed = last !== null && last.at > doneTo;
    // What a clock that was wrong has dated says nothing of when the first was.
    const first = isOwed && doneTo > 0 ? nextSlot(job.table, doneTo)?.at : last?.at;
    const decision = decide(job, kept, { ...seen, shelves: [shelf] }, now);
    return {
      ...{ shelf: shelf.name, isThere: shelf.isThere, lacksBytes: shelf.lacksBytes, nextAt },
      missed: isOwed ? { first: first ?? last.at, last: last.at } : null,
      windowEndsAt: isOwed ? last.at + job.windowSeconds * 1000 : null,
      wait: decision.do === 'start' || decision.reason === 'running' ? null : decision.reason,
    };
  });
}
