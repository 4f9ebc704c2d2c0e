import { type Reading, refused, understood } from './reading.ts';

/** Bytes in each unit a size may be written in. SI prefixes are decimal, Ki/Mi/Gi/Ti binary: ISO/IEC 80000-13. */
const SIZE_UNITS: ReadonlyMap<string, number> = new Map([
  ['B', 1],
  ['kB', 1e3],
  ['MB', 1e6],
  ['GB', 1e9],
  ['TB', 1e12],
  ['PB', 1e15],
  ['KiB', 2 ** 10],
  ['MiB', 2 ** 20],
  ['GiB', 2 ** 30],
  ['TiB', 2 ** 40],
  ['PiB', 2 ** 50],
]);

/** Seconds in each unit of time. `min`, `h` and `d` are the symbols accepted for use with the SI (BIPM brochure, table 8). */
const TIME_UNITS: ReadonlyMap<string, number> = new Map([
  ['ms', 0.001],
  ['s', 1],
  ['min', 60],
  ['h', 3600],
  ['d', 86_400],
]);

/** How people write units of time otherwise, and the symbol that is meant. `m` is the metre's. */
const TIME_WORDS: ReadonlyMap<string, string> = new Map([
  ['m', 'min'],
  ['mins', 'min'],
  ['minute', 'min'],
  ['minutes', 'min'],
  ['sec', 's'],
  ['secs', 's'],
  ['second', 's'],
  ['seconds', 's'],
  ['hr', 'h'],
  ['hrs', 'h'],
  ['hour', 'h'],
  ['hours', 'h'],
  ['day', 'd'],
  ['days', 'd'],
  ['msec', 'ms'],
]);

/** Shapes for editors (JSON Schema); the readers below decide. */
export const SHARE_PATTERN = '^\\s*\\d+(\\.\\d+)?\\s*%\\s*$';
export const SIZE_PATTERN = '^\\s*\\d+(\\.\\d+)?\\s*([kMGTP]|[KMGTP]i)?B\\s*$';
export const SPEED_PATTERN = '^\\s*\\d+(\\.\\d+)?\\s*([kMGTP]|[KMGTP]i)?B/s\\s*$';
export const DURATION_PATTERN = '^\\s*\\d+(\\.\\d+)?\\s*(ms|s|min|h|d)(\\s*\\d+(\\.\\d+)?\\s*(ms|s|min|h|d))*\\s*$';

const QUANTITY = /^\s*(\d+(?:\.\d+)?)\s*([^\s\d.,]+)\s*$/;
const QUANTITIES = /^(?:\s*\d+(?:\.\d+)?\s*\p{L}+)+\s*$/u;
const COMMA = /^(\s*\d+),(\d+\s*\S+\s*)$/;

/** A share like "10%", as 0.1. Zero is a share; what lies above 100 % is refused with a hint. */
export function parseShare(text: string): Reading<number> {
  const found = splitQuantity(text);
  if (!found.ok) return found;
  if (found.value.unit !== '%') return refused();
  if (found.value.amount > 100) return refused('100% is everything there is');
  return understood(found.value.amount / 100);
}

/** A size like "500 GB" or "1.5 TiB", in whole bytes. */
export function parseSize(text: string): Reading<number> {
  const found = splitQuantity(text);
  if (!found.ok) return found;
  const { amount, unit } = found.value;
  const bytesEach = SIZE_UNITS.get(unit);
  if (bytesEach === undefined) return refused(sizeHint(amount, unit, ''));
  const bytes = Math.round(amount * bytesEach);
  return Number.isSafeInteger(bytes) ? understood(bytes) : refused('that is more than any volume holds');
}

/** A rate like "1700 MB/s", in bytes per second. Rates in bits are refused, with the same rate in bytes as a hint. */
export function parseSpeed(text: string): Reading<number> {
  const found = splitQuantity(text);
  if (!found.ok) return found;
  const { amount, unit } = found.value;
  const bytesEach = unit.endsWith('/s') ? SIZE_UNITS.get(unit.slice(0, -2)) : undefined;
  if (bytesEach === undefined) return refused(sizeHint(amount, unit.replace(/(\/s|ps|\/sec)$/i, ''), '/s'));
  const rate = amount * bytesEach;
  return Number.isSafeInteger(Math.round(rate)) ? understood(rate) : refused();
}

/** A duration like "300 ms", "6h" or "1 h 30 min", in seconds. */
export function parseDuration(text: string): Reading<number> {
  if (!QUANTITIES.test(text)) return refused(commaHint(text));
  let seconds = 0;
  let previous = Number.POSITIVE_INFINITY;
  for (const [, amount = '', unit = ''] of text.matchAll(/(\d+(?:\.\d+)?)\s*(\p{L}+)/gu)) {
    const each = TIME_UNITS.get(unit);
    if (each === undefined) return refused(timeHint(text, unit));
    if (each >= previous) return refused('the larger unit comes first, and each only once');
    // 0.001 has no exact binary form: dividing keeps "300 ms" at exactly 0.3.
    seconds += unit === 'ms' ? Number(amount) / 1000 : Number(amount) * each;
    previous = each;
  }
  return Number.isFinite(seconds) ? understood(seconds) : refused();
}

function splitQuantity(text: string): Reading<{ amount: number; unit: string }> {
  const match = QUANTITY.exec(text);
  if (match === null) return refused(commaHint(text));
  const amount = Number(match[1]);
  return Number.isFinite(amount) ? understood({ amount, unit: match[2] ?? '' }) : refused();
}

function commaHint(text: string): string | null {
  return COMMA.test(text) ? `write the decimals with a point: "${text.trim().replace(',', '.')}"` : null;
}

function timeHint(text: string, unit: string): string | null {
  const symbol = TIME_WORDS.get(unit.toLowerCase()) ?? (TIME_UNITS.has(unit.toLowerCase()) ? unit.toLowerCase() : null);
  return symbol === null ? null : `did you mean "${text.trim().replace(unit, symbol)}"?`;
}

/** Bits taken for bytes, and the right letters in the wrong case, are the two mistakes worth an answer. */
function sizeHint(amount: number, unit: string, per: string): string | null {
  const bits = /^([kKMGTP]?)(b|bit)$/.exec(unit);
  if (bits !== null && per !== '') {
    const bytesUnit = `${bits[1]?.replace('K', 'k') ?? ''}B`;
    return `${unit}${per} counts bits; in bytes that is "${Number((amount / 8).toPrecision(6))} ${bytesUnit}${per}"`;
  }
  const wanted = unit.toLowerCase();
  const known = [...SIZE_UNITS.keys()].find(
    (name) => name.toLowerCase() === wanted || name.toLowerCase() === `${wanted}b`,
  );
  return known === undefined ? null : `did you mean "${amount} ${known}${per}"?`;
}
