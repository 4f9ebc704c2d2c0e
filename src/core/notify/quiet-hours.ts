import type { Instant } from '../model.ts';

/** Hours of each day in which little is told, by the clocks of a place. In minutes since midnight; may lead over midnight. */
export interface QuietHours {
  from: number;
  /** No longer quiet. */
  until: number;
}

/** Until when it is quiet; `null`: it is not. `zone` is an IANA name. The change of clocks is followed. */
export function quietUntil({ from, until }: QuietHours, zone: string, now: Instant): Instant | null {
  const here = Temporal.Instant.fromEpochMilliseconds(Math.floor(now)).toZonedDateTimeISO(zone);
  const minute = here.hour * 60 + here.minute;
  const overMidnight = from > until;
  const isQuiet = overMidnight ? minute >= from || minute < until : minute >= from && minute < until;
  if (!isQuiet) return null;
  const day = here.toPlainDate().add({ days: overMidnight && minute >= from ? 1 : 0 });
  const plainTime = Temporal.PlainTime.from({ hour: Math.floor(until / 60), minute: until % 60 });
  const end = day.toZonedDateTime({ timeZone: zone, plainTime }).epochMilliseconds;
  // In an hour that comes twice the end may have been already: it is looked at again a minute later.
  return end > now ? end : now + 60_000;
}
