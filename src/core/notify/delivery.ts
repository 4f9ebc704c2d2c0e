import type { Instant, Severity } from '../model.ts';
import type { SendOutcome } from './channel-port.ts';
import type { TryEnd } from './queue-port.ts';
import { type QuietHours, quietUntil } from './quiet-hours.ts';

/** What a channel is told, and when. */
export interface ChannelRule {
  name: string;
  /** The least severity that is told. */
  severity: Severity;
  quiet: QuietHours | null;
  /** The least severity that is told in quiet hours. */
  quietSeverity: Severity;
}

/** Why something is sent, waits, or is not sent. Closed set; also log field. */
export type DeliveryReason =
  | 'below-severity'
  | 'wanted'
  | 'over'
  | 'open-hours'
  | 'quiet-hours'
  | 'in-time'
  | 'too-old'
  | 'answered'
  | 'refused'
  | 'not-through';

const FIRST_PAUSE_MS = 5_000;
const LONGEST_PAUSE_MS = 15 * 60_000;

/** What nobody could be told for so long is given up. */
const GIVEN_UP_AFTER_MS = 86_400_000;

const RANKS: Record<Severity, number> = { notice: 0, warning: 1, critical: 2 };

/** 0 to 2, rising. */
export function rankOf(severity: Severity): number {
  return RANKS[severity];
}

/** Is a channel told of this? What is over is offered always: only the queue knows whether the channel was told of it. */
export function route(
  rule: ChannelRule,
  event: string,
  severity: Severity,
): { isQueued: boolean; reason: DeliveryReason } {
  if (event === 'cleared') return { isQueued: true, reason: 'over' };
  const isQueued = rankOf(severity) >= rankOf(rule.severity);
  return { isQueued, reason: isQueued ? 'wanted' : 'below-severity' };
}

/** The least severity that goes now, and until when that holds (`null`: until something else is set). */
export function openTo(
  rule: ChannelRule,
  zone: string,
  now: Instant,
): { least: Severity; until: Instant | null; reason: DeliveryReason } {
  const until = rule.quiet === null ? null : quietUntil(rule.quiet, zone, now);
  if (until === null) return { least: 'notice', until, reason: 'open-hours' };
  return { least: rule.quietSeverity, until, reason: 'quiet-hours' };
}

/** Is it still worth telling? */
export function isInTime(madeAt: Instant, now: Instant): { inTime: boolean; reason: DeliveryReason } {
  const inTime = now - madeAt <= GIVEN_UP_AFTER_MS;
  return { inTime, reason: inTime ? 'in-time' : 'too-old' };
}

/** What a try means for its message. */
export function afterTry(outcome: SendOutcome): { end: TryEnd; reason: DeliveryReason } {
  if (outcome.sent) return { end: 'sent', reason: 'answered' };
  return outcome.retry ? { end: 'again', reason: 'not-through' } : { end: 'given-up', reason: 'refused' };
}

/** How long to wait after so many tries in a row that came to nothing, ms: 5 s, doubling up to 15 min. */
export function pauseAfter(failures: number): number {
  return Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 2 ** Math.min(30, Math.max(0, failures - 1)));
}
