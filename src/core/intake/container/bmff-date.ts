import { isoDate } from '../origin.ts';
import { type Part, u32, u64, version } from './bmff-parts.ts';

/** Days from 1904-01-01, the epoch of ISO/IEC 14496-12 clause 8.2.2, to 1970-01-01. */
const EPOCH_DAYS = 24_107;
const DAY_SECONDS = 86_400;
const DAYS_TO_2100 = 47_482;

/** When the movie header says that the movie was made, in UTC. `null` for a clock that nobody set: 1970 and before. */
export function movieDate(header: Part | null): string | null {
  if (header === null) return null;
  const seconds = version(header) === 1 ? u64(header, 4) : u32(header, 4);
  const days = Math.floor(seconds / DAY_SECONDS) - EPOCH_DAYS;
  // From 2100 on it is noise, not a date.
  if (days < 0 || days >= DAYS_TO_2100) return null;
  const rest = seconds % DAY_SECONDS;
  const two = (value: number) => String(value).padStart(2, '0');
  const time = `${two(Math.floor(rest / 3600))}:${two(Math.floor(rest / 60) % 60)}:${two(rest % 60)}`;
  return isoDate(`${dateOfDay(days)}T${time}Z`);
}

/** Date of a day counted from 1970-01-01, in the Gregorian calendar. */
function dateOfDay(days: number): string {
  let year = 1970;
  let left = days;
  for (let length = yearLength(year); left >= length; length = yearLength(year)) {
    left -= length;
    year += 1;
  }
  let month = 0;
  for (let length = monthLength(year, month); left >= length; length = monthLength(year, month)) {
    left -= length;
    month += 1;
  }
  return `${year}-${String(month + 1).padStart(2, '0')}-${String(left + 1).padStart(2, '0')}`;
}

function yearLength(year: number): number {
  return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0 ? 366 : 365;
}

function monthLength(year: number, month: number): number {
  if (month === 1) return yearLength(year) - 337;
  return [31, 0, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month] ?? 31;
}
