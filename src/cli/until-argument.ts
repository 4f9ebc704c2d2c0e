import type { Instant } from '../core/model.ts';
import { type Reading, refused, understood } from '../settings/reading.ts';

/** What a time may look like, for whoever wrote another. */
export const TIME_FORMS = '"18:00", "2027-03-05", "2027-03-05 18:00" or "2027-03-05T18:00+01:00"';

const CLOCK = /^([01]?\d|2[0-3]):([0-5]\d)$/;
const DAY_AND_CLOCK = /^(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}(?::\d{2})?)(Z|[+-]\d{2}:\d{2})?)?$/;

/**
 * A time that is written by hand: an hour is the next one on the clocks of `zone` (IANA name), a day its beginning there. An hour
 * that the clocks skip or repeat is taken as they show it next.
 */
export function readTime(text: string, now: Instant, zone: string): Reading<Instant> {
  const clock = CLOCK.exec(text.trim());
  if (clock !== null) return understood(nextAt(Number(clock[1]), Number(clock[2]), now, zone));
  const [, day, hour = '00:00', offset] = DAY_AND_CLOCK.exec(text.trim()) ?? [];
  if (day === undefined) return refused();
  try {
    const time = `${day}T${hour}`;
    return understood(
      offset === undefined
        ? Temporal.PlainDateTime.from(time).toZonedDateTime(zone).epochMilliseconds
        : Temporal.Instant.from(`${time}${offset}`).epochMilliseconds,
    );
  } catch {
    return refused('there is no such day or hour');
  }
}

function nextAt(hour: number, minute: number, now: Instant, zone: string): Instant {
  const today = Temporal.Instant.fromEpochMilliseconds(Math.round(now)).toZonedDateTimeISO(zone).toPlainDate();
  const on = (day: Temporal.PlainDate) =>
    day.toZonedDateTime({ timeZone: zone, plainTime: new Temporal.PlainTime(hour, minute) }).epochMilliseconds;
  return on(today) > now ? on(today) : on(today.add({ days: 1 }));
}
