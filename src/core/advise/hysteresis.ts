import type { Instant, Severity } from '../model.ts';

/** What one pass saw of a subject. `held`: nothing can be concluded (root not live, or between two thresholds). */
export type Sighting = Severity | 'none' | 'held';

/** Serialisable as JSON; kept over restarts. */
export type HysteresisState =
  | { phase: 'clear' }
  /** Seen, but not yet for long enough. `since`: first seen without a break. */
  | { phase: 'pending'; since: Instant; severity: Severity }
  /** `since`: first seen. `falling`: seen less severe, or no longer, since then. */
  | { phase: 'raised'; since: Instant; severity: Severity; falling: { to: Severity | 'none'; since: Instant } | null };

export type Change = 'raised' | 'worse' | 'better' | 'cleared';

/** Why a step changed something or did not. */
export type StepReason =
  | 'not-seen'
  | 'waits-to-raise'
  | 'held-long-enough'
  | 'gone-before-raised'
  | 'severity-rose'
  | 'still-holds'
  | 'waits-to-fall'
  | 'lower-long-enough'
  | 'gone-long-enough'
  | 'nothing-concluded';

/** Seconds a condition must hold before it is raised, and be away before it is cleared. */
export interface HoldTimes {
  raiseAfter: number;
  clearAfter: number;
}

export interface Step {
  state: HysteresisState;
  change: Change | null;
  reason: StepReason;
}

const RANK: Record<Severity | 'none', number> = { none: 0, notice: 1, warning: 2, critical: 3 };

export const CLEAR: HysteresisState = { phase: 'clear' };

/** Is `one` more severe than `other`? */
export function isWorse(one: Severity | 'none', other: Severity | 'none'): boolean {
  return RANK[one] > RANK[other];
}

/**
 * One step for one subject. Raises after `raiseAfter`, follows a rising severity at once, follows a falling one and
 * clears after `clearAfter`. A held sighting keeps what is raised and starts every waiting time anew: only what was
 * seen counts as time. A wall clock that jumps back starts a waiting time anew too.
 */
export function step(state: HysteresisState, sighting: Sighting, now: Instant, holds: HoldTimes): Step {
  if (sighting === 'held') return hold(state);
  if (state.phase === 'raised') return stepRaised(state, sighting, now, holds);
  return stepUnraised(state, sighting, now, holds);
}

type Pending = Extract<HysteresisState, { phase: 'pending' }>;
type Raised = Extract<HysteresisState, { phase: 'raised' }>;

function hold(state: HysteresisState): Step {
  const kept: HysteresisState = state.phase === 'raised' ? { ...state, falling: null } : CLEAR;
  return { state: kept, change: null, reason: 'nothing-concluded' };
}

function stepUnraised(state: HysteresisState, seen: Severity | 'none', now: Instant, holds: HoldTimes): Step {
  if (seen === 'none') {
    return { state: CLEAR, change: null, reason: state.phase === 'pending' ? 'gone-before-raised' : 'not-seen' };
  }
  const since = state.phase === 'pending' ? Math.min(state.since, now) : now;
  if (isDue(since, now, holds.raiseAfter)) {
    return {
      state: { phase: 'raised', since, severity: seen, falling: null },
      change: 'raised',
      reason: 'held-long-enough',
    };
  }
  const waiting: Pending = { phase: 'pending', since, severity: seen };
  return { state: waiting, change: null, reason: 'waits-to-raise' };
}

function stepRaised(state: Raised, seen: Severity | 'none', now: Instant, holds: HoldTimes): Step {
  if (seen !== 'none' && isWorse(seen, state.severity)) {
    return { state: { ...state, severity: seen, falling: null }, change: 'worse', reason: 'severity-rose' };
  }
  if (seen === state.severity) return { state: { ...state, falling: null }, change: null, reason: 'still-holds' };
  const since = Math.min(state.falling?.since ?? now, now);
  // It falls no further than to the most severe that was seen on the way.
  const to = state.falling !== null && isWorse(state.falling.to, seen) ? state.falling.to : seen;
  if (isDue(since, now, holds.clearAfter)) return fall(state, to, seen, now);
  return { state: { ...state, falling: { to, since } }, change: null, reason: 'waits-to-fall' };
}

function fall(state: Raised, to: Severity | 'none', seen: Severity | 'none', now: Instant): Step {
  if (to === 'none') return { state: CLEAR, change: 'cleared', reason: 'gone-long-enough' };
  const falling = seen === to ? null : { to: seen, since: now };
  return { state: { ...state, severity: to, falling }, change: 'better', reason: 'lower-long-enough' };
}

function isDue(since: Instant, now: Instant, seconds: number): boolean {
  return now - since >= seconds * 1000;
}
