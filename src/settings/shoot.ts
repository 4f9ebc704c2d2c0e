import type { Ratio } from '../core/model.ts';
import { type Reading, refused, understood } from './reading.ts';

/** Pixels; twice the 16384 of the largest level of the usual codecs (from memory). What lies above is a slip of the key. */
const LARGEST_SIDE = 32_768;
/** Frames per second; above any rate that is edited. */
const FASTEST_RATE = 1000;

/** Rates spoken of in decimals that are N x 1000/1001 exactly (SMPTE ST 12-1 calls the 30 family 30/1.001). */
const SPOKEN_RATES: ReadonlyMap<string, number> = new Map([
  ['23.976', 24],
  ['23.98', 24],
  ['29.97', 30],
  ['47.95', 48],
  ['47.952', 48],
  ['59.94', 60],
  ['119.88', 120],
]);

export const RASTER_PATTERN = '^\\d{1,5}x\\d{1,5}$';
export const RATE_PATTERN = '^(\\d+(\\.\\d+)?|\\d+/\\d+)$';
export const DAY_PATTERN = '^\\d{4}-\\d{2}-\\d{2}$';

/** A raster like "3840x2160", in pixels. */
export function parseRaster(text: string): Reading<{ width: number; height: number }> {
  const match = /^(\d{1,5})x(\d{1,5})$/.exec(text.trim());
  if (match === null) {
    const other = /^(\d{1,5})\s*[xX×*,]\s*(\d{1,5})$/.exec(text.trim());
    return refused(other === null ? null : `did you mean "${other[1]}x${other[2]}"?`);
  }
  const width = Number(match[1]);
  const height = Number(match[2]);
  const fits = Math.min(width, height) > 0 && Math.max(width, height) <= LARGEST_SIDE;
  return fits ? understood({ width, height }) : refused(`a side has 1 to ${LARGEST_SIDE} pixels`);
}

/** A frame rate: a number ("25", 29.97) or a ratio ("24000/1001"), exact. 23.976 and its like become N x 1000/1001. */
export function parseRate(written: string | number): Reading<Ratio> {
  const text = String(written).trim();
  const spoken = SPOKEN_RATES.get(text);
  if (spoken !== undefined) return understood({ num: spoken * 1000, den: 1001 });
  const ratio = /^(\d{1,6})\/(\d{1,6})$/.exec(text);
  if (ratio !== null) return within(Number(ratio[1]), Number(ratio[2]));
  const decimal = /^(\d{1,4})(?:\.(\d{1,3}))?$/.exec(text);
  if (decimal === null) return refused(/^\d/.test(text) && /[pi]$/i.test(text) ? 'leave the p or i away' : null);
  const den = 10 ** (decimal[2]?.length ?? 0);
  return within(Math.round(Number(text) * den), den);
}

function within(num: number, den: number): Reading<Ratio> {
  const rate = num / den;
  if (!(rate > 0 && rate <= FASTEST_RATE)) return refused();
  const divisor = greatestCommonDivisor(num, den);
  return understood({ num: num / divisor, den: den / divisor });
}

function greatestCommonDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestCommonDivisor(b, a % b);
}

/** A calendar day, "2027-03-04" (ISO 8601). Days that do not exist are refused. */
export function parseDay(text: string): Reading<string> {
  const match = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
  if (match === null) return refused();
  const [year, month, day] = [Number(match[1]), Number(match[2]), Number(match[3])];
  const exists = month >= 1 && month <= 12 && day >= 1 && day <= daysInMonth(year, month);
  return exists ? understood(text) : refused('there is no such day');
}

/** Gregorian calendar. */
function daysInMonth(year: number, month: number): number {
  if (month === 2) return (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0 ? 29 : 28;
  return [4, 6, 9, 11].includes(month) ? 30 : 31;
}
