import type { Instant } from '../model.ts';
import { type CronFields, readCronFields } from './cron-fields.ts';

/** When a job is due: cron's fields, told by the clocks of a place. */
export interface Timetable {
  fields: CronFields;
  /** IANA name. */
  zone: string;
}

/** An instant at which a job is due. */
export interface Slot {
  at: Instant;
  /** The clocks were put forward over the time that was asked for: this is the first moment after. */
  isInGap: boolean;
}

/** 29 February on a given weekday can be 40 years away: 2100 is no leap year. */
const MONTHS_SEARCHED = 41 * 12;

/** Reads five cron fields that the settings accepted. Throws a RangeError on others, and on a zone that nobody knows. */
export function timetable(text: string, zone: string): Timetable {
  const fields = readCronFields(text);
  if (typeof fields === 'string') throw new RangeError(`"${text}": ${fields}`);
  Temporal.PlainDate.from('2027-01-01').toZonedDateTime(zone);
  return { fields, zone };
}

/** The first slot after an instant; `null` when none comes within 41 years. */
export function nextSlot(table: Timetable, after: Instant): Slot | null {
  for (const date of dates(table, after, 1)) {
    const found = slotsOn(table, date).find(({ at }) => at > after);
    if (found !== undefined) return found;
  }
  return null;
}

/** The last slot at or before an instant; `null` when none was within 41 years. */
export function lastSlot(table: Timetable, until: Instant): Slot | null {
  for (const date of dates(table, until, -1)) {
    const found = slotsOn(table, date).findLast(({ at }) => at <= until);
    if (found !== undefined) return found;
  }
  return null;
}

/** Slots after one instant up to and with another, in order. */
export function slotsBetween(table: Timetable, after: Instant, until: Instant): Slot[] {
  const slots: Slot[] = [];
  for (let slot = nextSlot(table, after); slot !== null && slot.at <= until; slot = nextSlot(table, slot.at)) {
    slots.push(slot);
  }
  return slots;
}

/** Dates that the fields choose, one way from an instant, with the day before it: clocks may be put over midnight. */
function* dates({ fields, zone }: Timetable, from: Instant, way: 1 | -1): Generator<Temporal.PlainDate> {
  const today = Temporal.Instant.fromEpochMilliseconds(from).toZonedDateTimeISO(zone).toPlainDate();
  let date = today.add({ days: -way });
  for (let months = 0; months < MONTHS_SEARCHED; months++) {
    const { month } = date;
    for (; date.month === month; date = date.add({ days: way })) {
      if (isChosen(fields, date)) yield date;
      else if (!fields.months.has(month)) date = date.with({ day: way > 0 ? date.daysInMonth : 1 });
    }
  }
}

function isChosen({ months, days, weekdays, isEitherDay }: CronFields, date: Temporal.PlainDate): boolean {
  if (!months.has(date.month)) return false;
  const isDay = days.has(date.day);
  const isWeekday = weekdays.has(date.dayOfWeek % 7);
  return isEitherDay ? isDay || isWeekday : isDay && isWeekday;
}

/** In order, each once: times that the clocks skip fall on one moment, times that they show twice count when shown first. */
function slotsOn({ fields, zone }: Timetable, date: Temporal.PlainDate): Slot[] {
  const slots = new Map<Instant, Slot>();
  const midnight = date.toZonedDateTime(zone);
  // On most days no clock is put, and times of the day can be added up: much faster where there are many.
  const isUsual = midnight.hoursInDay === 24 && midnight.toPlainDate().equals(date);
  for (const hour of fields.hours) {
    for (const minute of fields.minutes) {
      const passed = midnight.epochMilliseconds + (hour * 60 + minute) * 60_000;
      const slot = isUsual ? { at: passed, isInGap: false } : slotAt(date.toPlainDateTime({ hour, minute }), zone);
      slots.set(slot.at, slot);
    }
  }
  return [...slots.values()].sort((one, other) => one.at - other.at);
}

function slotAt(wall: Temporal.PlainDateTime, zone: string): Slot {
  const zoned = wall.toZonedDateTime(zone, { disambiguation: 'earlier' });
  if (zoned.toPlainDateTime().equals(wall)) return { at: zoned.epochMilliseconds, isInGap: false };
  const change = zoned.getTimeZoneTransition('next');
  return { at: (change ?? zoned).epochMilliseconds, isInGap: true };
}

/**
 * The times of the day in cron's fields, on every day, without names, ranges or steps: what any timer understands. It wakes on days
 * that are not chosen too, where nothing is due.
 */
export function wakeText({ fields }: Timetable): string {
  return `${fields.minutes.join(',')} ${fields.hours.join(',')} * * *`;
}
