import type { Instant, Severity } from '../model.ts';
import { type Change, isWorse } from './hysteresis.ts';
import type { SnoozeReason } from './snooze.ts';

/** A subset of what NotifyPort takes; "better" is shown, not announced. */
export type AnnouncedEvent = 'first' | 'worse' | 'cleared' | 'reminder';

/** What was last said of a subject since it was raised. Serialisable as JSON. */
export interface Announced {
  event: AnnouncedEvent;
  /** The most severe that was announced since it was raised. */
  severity: Severity;
  at: Instant;
}

/** Why something is announced, or not. Also log field and metric label. */
export type AnnounceReason =
  | 'newly-raised'
  | 'more-severe-than-told'
  | 'no-longer-holds'
  | 'a-day-since-last-told'
  | 'told-already'
  | 'better-is-not-told'
  | 'never-told'
  | 'not-raised'
  | SnoozeReason;

export interface Announcement {
  event: AnnouncedEvent | null;
  reason: AnnounceReason;
}

/** What is critical is told again after this long. */
export const REMINDED_AFTER_MS = 86_400_000;

/**
 * Decides what to say of one subject. `severity` is that of the advisory after the change, `null` when it is not
 * raised; `last` what was said before. Said at once: the first time, a severity that was not told yet, the end of what
 * was told. A critical advisory is repeated once a day. The same news is never told twice.
 */
export function announce(
  change: Change | null,
  last: Announced | null,
  severity: Severity | null,
  now: Instant,
): Announcement {
  if (change === 'cleared') {
    return last === null ? { event: null, reason: 'never-told' } : { event: 'cleared', reason: 'no-longer-holds' };
  }
  if (severity === null) return { event: null, reason: 'not-raised' };
  if (last === null) return { event: 'first', reason: 'newly-raised' };
  if (isWorse(severity, last.severity)) return { event: 'worse', reason: 'more-severe-than-told' };
  if (severity === 'critical' && now - last.at >= REMINDED_AFTER_MS)
    return { event: 'reminder', reason: 'a-day-since-last-told' };
  return { event: null, reason: change === 'better' ? 'better-is-not-told' : 'told-already' };
}

/** What to keep after `event` was said. A clock that was set back must not silence the reminders: `at` never lies ahead. */
export function remember(
  last: Announced | null,
  event: AnnouncedEvent | null,
  severity: Severity,
  now: Instant,
): Announced | null {
  if (event === null) return last === null ? null : { ...last, at: Math.min(last.at, now) };
  return { event, severity: last !== null && isWorse(last.severity, severity) ? last.severity : severity, at: now };
}
