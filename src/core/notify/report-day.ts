import type { Instant } from '../model.ts';
import type { Span } from '../report-ports.ts';

/** Why a report is made now, or not. Closed set; also log field. */
export type ReportReason = 'not-yet' | 'made-already' | 'being-read' | 'due';

/** From when on a report tells, and why from then. */
export interface ReportPeriod extends Span {
  basis: 'last-report' | 'eight-days' | 'report-hour' | 'last-day';
}

/** A day by the clocks of a place, and when its report is due. */
export interface ReportDay {
  /** `2027-03-05` */
  day: string;
  at: Instant;
}

const DAY_MS = 86_400_000;

/** Volumes that are being read for the first time since a start are waited for so long: else half of what is there would be told. */
const READ_PATIENCE_MS = 10 * 60_000;

/** A report reaches no further back, however long none was sent. */
const LONGEST_MS = 8 * DAY_MS;

/** The day that it is, and when its report is due. `minutes` since midnight by the clocks of `zone` (IANA name). */
export function reportDay(minutes: number, zone: string, now: Instant): ReportDay {
  const day = dayOf(zone, now);
  return { day: day.toString(), at: instantOf(day, minutes, zone) };
}

/**
 * Is the report of a day to be made now? One whose hour went by while the machine slept is made up for, on the same day.
 * `isMade`: for this day, whatever the clocks said since. `waitedMs`: since the start, by a clock that never jumps.
 */
export function reportDue(
  { at }: ReportDay,
  { isMade, isRead, waitedMs }: { isMade: boolean; isRead: boolean; waitedMs: number },
  now: Instant,
): { isDue: boolean; reason: ReportReason } {
  if (isMade) return { isDue: false, reason: 'made-already' };
  if (now < at) return { isDue: false, reason: 'not-yet' };
  if (!isRead && waitedMs < READ_PATIENCE_MS) return { isDue: false, reason: 'being-read' };
  return { isDue: true, reason: 'due' };
}

/**
 * What the report of a day tells of: from where the last one that was sent ended, so that nothing falls between two, but no more than
 * eight days; without one from the report hour of the day before.
 */
export function periodOf(minutes: number, zone: string, now: Instant, sentUntil: Instant | null): ReportPeriod {
  if (sentUntil !== null && sentUntil < now) {
    const isLongAgo = now - sentUntil > LONGEST_MS;
    return isLongAgo
      ? { from: now - LONGEST_MS, until: now, basis: 'eight-days' }
      : { from: sentUntil, until: now, basis: 'last-report' };
  }
  const from = instantOf(dayOf(zone, now).subtract({ days: 1 }), minutes, zone);
  return { from, until: now, basis: 'report-hour' };
}

/** What is told whenever somebody asks. */
export function lastDay(now: Instant): ReportPeriod {
  return { from: now - DAY_MS, until: now, basis: 'last-day' };
}

function dayOf(zone: string, now: Instant): Temporal.PlainDate {
  return Temporal.Instant.fromEpochMilliseconds(Math.floor(now)).toZonedDateTimeISO(zone).toPlainDate();
}

/** Of an hour that comes twice the first; of one that is left out the first minute that there is after it. */
function instantOf(day: Temporal.PlainDate, minutes: number, timeZone: string): Instant {
  const plainTime = Temporal.PlainTime.from({ hour: Math.floor(minutes / 60), minute: minutes % 60 });
  const wanted = day.toPlainDateTime(plainTime);
  const first = wanted.toZonedDateTime(timeZone, { disambiguation: 'earlier' });
  const isThere = first.toPlainDateTime().equals(wanted);
  const at = isThere ? first : (first.getTimeZoneTransition('next') ?? first);
  return at.epochMilliseconds;
}
