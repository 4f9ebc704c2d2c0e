import type { Instant, Severity } from '../model.ts';
import type { Announced, AnnouncedEvent, Announcement } from './announce.ts';
import { isWorse } from './hysteresis.ts';

/**
 * A person said that an advisory is known, or wants it quiet for a while. Serialisable as JSON: it is kept with the state of its
 * advisory, and goes with it when the advisory is over.
 */
export interface Snooze {
  saidAt: Instant;
  /** The system's name of the person. */
  saidBy: string;
  /** In the person's words; empty: none was given. */
  reason: string;
  /** How severe it was then: what is worse speaks at once. */
  severity: Severity;
  /** The person knows of it: quiet until it is over or gets worse. */
  isKnown: boolean;
  /** When it is told again by itself; `null`: not by time. */
  until: Instant | null;
  /** What ends it then. */
  ends: 'as-asked' | 'as-critical' | 'lifted';
}

/** What a person asks for. */
export interface SnoozeAsked {
  /** `null`: it is known. */
  until: Instant | null;
  reason: string;
  by: string;
}

/** Why something is told, or not, because somebody asked for quiet. Part of `AnnounceReason`. */
export type SnoozeReason =
  | 'snoozed'
  | 'known'
  | 'snooze-is-over'
  | 'critical-is-not-snoozed-longer'
  | 'snooze-was-lifted'
  | 'worse-than-when-snoozed';

/** What is critical comes back by itself after so long, whatever was asked for: as often as it would be repeated. */
const CRITICAL_SNOOZED_MS = 86_400_000;

/** A day of the year after next is a slip of the key; what stays is known. */
const LONGEST_MS = 366 * 86_400_000;

/** In characters. A reason is one line of a screen or two. */
const LONGEST_REASON = 200;
const LONGEST_NAME = 64;

/** A wall clock that is so far behind was set back; less is a pass that began before something was said. */
const CLOCK_SLACK_MS = 60_000;

/** Why a snooze cannot be as it is asked for, in words; `null`: it can. */
export function snoozeProblem({ until, reason }: SnoozeAsked, now: Instant): string | null {
  const length = [...reason.trim()].length;
  if (length > LONGEST_REASON) return `a reason has at most ${LONGEST_REASON} characters, this one has ${length}`;
  if (until === null) return length === 0 ? 'to say that it is known takes a reason' : null;
  if (!(until > now)) return 'the time until which it is to be quiet is over already';
  if (until - now > LONGEST_MS) return 'it can be quiet for a year at most; what stays longer is known';
  return null;
}

/** The snooze as it will be, of an advisory that is so severe now. */
export function snoozeOf({ until, reason, by }: SnoozeAsked, severity: Severity, now: Instant): Snooze {
  const latest = severity === 'critical' ? now + CRITICAL_SNOOZED_MS : null;
  const isCut = latest !== null && (until === null || until > latest);
  return {
    saidAt: now,
    saidBy: [...by.trim()].slice(0, LONGEST_NAME).join(''),
    reason: reason.trim(),
    severity,
    isKnown: until === null,
    until: isCut ? latest : until,
    ends: isCut ? 'as-critical' : 'as-asked',
  };
}

/** Somebody took it back: it is told again with the next pass. */
export function lifted(snooze: Snooze, now: Instant): Snooze {
  return { ...snooze, until: now, ends: 'lifted' };
}

/** What of an announcement is said, and what is left of the snooze. */
export interface Hushed extends Announcement {
  snooze: Snooze | null;
}

/**
 * Decides whether what would be said of one subject is said while somebody wants quiet. `severity`: of the advisory now, `null`
 * when it is not raised. What is over is told to whoever was told of it, and ends the quiet. What is worse than it was when it was
 * snoozed is told at once. When the quiet ends and the advisory still stands, it is told again, whatever was told before.
 */
export function hush(
  snooze: Snooze | null,
  said: Announcement,
  last: Announced | null,
  severity: Severity | null,
  now: Instant,
): Hushed {
  if (snooze === null || severity === null) return { ...said, snooze: null };
  if (isWorse(severity, snooze.severity)) {
    const event: AnnouncedEvent = last === null ? 'first' : 'worse';
    return { event, reason: 'worse-than-when-snoozed', snooze: null };
  }
  const kept = notBefore(snooze, now);
  if (kept.ends === 'lifted' || (kept.until !== null && now >= kept.until)) {
    return { event: said.event ?? 'reminder', reason: END_REASONS[kept.ends], snooze: null };
  }
  return { event: null, reason: kept.isKnown ? 'known' : 'snoozed', snooze: kept };
}

/** Does somebody want it quiet still? */
export function isSnoozed(snooze: Snooze | null): snooze is Snooze {
  return snooze !== null && snooze.ends !== 'lifted';
}

const END_REASONS: Record<Snooze['ends'], SnoozeReason> = {
  'as-asked': 'snooze-is-over',
  'as-critical': 'critical-is-not-snoozed-longer',
  lifted: 'snooze-was-lifted',
};

/** A clock that was set back must not lengthen the quiet: from now it lasts no longer than it was to last in all. */
function notBefore(snooze: Snooze, now: Instant): Snooze {
  const { saidAt, until } = snooze;
  if (now >= saidAt - CLOCK_SLACK_MS) return snooze;
  return { ...snooze, saidAt: now, until: until === null ? null : Math.min(until, now + (until - saidAt)) };
}
