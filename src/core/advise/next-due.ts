import type { Instant } from '../model.ts';
import type { AdviceState, SubjectState } from './advise.ts';
import { REMINDED_AFTER_MS } from './announce.ts';
import type { Thresholds } from './rules/rule.ts';
import { RULES } from './rules/rules.ts';

/**
 * When time alone changes something next: an advisory has held, or been away, for long enough, a reminder is due, or
 * somebody wanted quiet no longer.
 * `Infinity`: not before something else is seen.
 */
export function nextDue(state: AdviceState, thresholds: Thresholds): Instant {
  let next = Number.POSITIVE_INFINITY;
  for (const subject of state.values()) next = Math.min(next, dueOf(subject, thresholds));
  return next;
}

function dueOf({ kind, hysteresis, announced, snooze }: SubjectState, thresholds: Thresholds): Instant {
  const isImmediate = RULES.some((rule) => rule.kind === kind && rule.immediate);
  const after = (since: Instant, seconds: number) => since + (isImmediate ? 0 : seconds * 1000);
  if (hysteresis.phase === 'pending') return after(hysteresis.since, thresholds.raiseAfter);
  if (hysteresis.phase === 'clear') return Number.POSITIVE_INFINITY;
  const { falling, severity } = hysteresis;
  const fallen = falling === null ? Number.POSITIVE_INFINITY : after(falling.since, thresholds.clearAfter);
  // Nobody is reminded before the quiet ends.
  if (snooze !== null) return Math.min(fallen, snooze.until ?? Number.POSITIVE_INFINITY);
  const isReminded = severity === 'critical' && announced !== null;
  return Math.min(fallen, isReminded ? announced.at + REMINDED_AFTER_MS : Number.POSITIVE_INFINITY);
}
