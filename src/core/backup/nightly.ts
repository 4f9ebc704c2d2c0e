import type { Instant } from '../model.ts';
import { lastSlot, nextSlot, slotsBetween, type Timetable } from './slots.ts';

/** Up to when the slots of a backup are done with. Serialisable as JSON. */
export interface NightlyState {
  handledUntil: Instant;
}

export interface NightlyDecision {
  state: NightlyState;
  /** What is to begin now; one run makes up for all that were missed. `null`: nothing. */
  start: 'nightly' | 'catch-up' | null;
}

/** A slot that was noticed later than this was missed: the daemon was down, the machine slept, or the clock jumped. */
const IN_TIME_MS = 5 * 60_000;
/** The clock was put back further than any slot can be ahead of it. */
const JUMP_MS = 2 * 86_400_000;

/**
 * Is a nightly backup due? Each slot is handled once, however often this is asked; those that were missed are made up for by one run. `known` is
 * `null` at the first start ever: what was due before is nobody's debt. Keep the state durably before the run begins.
 */
export function nightly(table: Timetable, known: NightlyState | null, now: Instant): NightlyDecision {
  if (known === null || known.handledUntil > now + JUMP_MS) return { state: { handledUntil: now }, start: null };
  const missed = slotsBetween(table, known.handledUntil, now).at(-1);
  if (missed === undefined) return { state: known, start: null };
  return { state: { handledUntil: missed.at }, start: now - missed.at <= IN_TIME_MS ? 'nightly' : 'catch-up' };
}

/** When the next one begins, as far as is known; `null`: never. */
export function nextNightly(table: Timetable, now: Instant): Instant | null {
  return nextSlot(table, now)?.at ?? null;
}

/** When one that began at `startedAt` has to end: so long after its slot. */
export function deadlineOf(table: Timetable, startedAt: Instant, windowSeconds: number): Instant {
  const slot = lastSlot(table, startedAt)?.at ?? startedAt;
  return Math.max(slot, startedAt - IN_TIME_MS) + windowSeconds * 1000;
}
