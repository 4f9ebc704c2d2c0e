import type { PathText } from '../model.ts';
import { CINEMA_FRAME, FRAME } from './extensions.ts';
import { dirName, extension, stem } from './path-text.ts';

/** A numbered frame: `dir/prefix` + number of `digits` digits + `suffix` (what follows, with the extension as written). */
export interface Frame {
  dir: PathText;
  prefix: string;
  digits: number;
  number: number;
  suffix: string;
}

export interface NumberRange {
  first: number;
  last: number;
}

/**
 * The last run of at least four digits: the rule for raw frame sequences (CinemaDNG). More than 15 would not fit a number
 * exactly. Behind it may stand what tells two sequences apart (`_left`), with shorter numbers at most. Of formats that are
 * stills as well the number ends the name: photographs have dates in theirs.
 */
const NUMBERED = /^(.*?)(\d{4,15})((?:\D|(?<!\d)\d{1,3}(?!\d))*)$/s;

/**
 * A camera still: four free characters and a number of four digits, the file names of the DCF standard (CIPA DC-009,
 * from memory). A card of photographs counts up just as frames do, so such names are never taken as frames.
 */
const CAMERA_STILL = /^[A-Z0-9_]{4}$/i;

/** Reads a path as a numbered frame; `null` when it is none. */
export function frameOf(path: PathText): Frame | null {
  const ext = extension(path);
  if (!FRAME.has(ext)) return null;
  const base = stem(path);
  const [, prefix, digits, behind = ''] = NUMBERED.exec(base) ?? [];
  if (prefix === undefined || digits === undefined || /\d$/.test(prefix)) return null;
  const cinema = CINEMA_FRAME.has(ext);
  if (behind !== '' && !cinema && ext !== 'dng') return null;
  if (!cinema && !ext.startsWith('tif') && digits.length === 4 && CAMERA_STILL.test(prefix)) return null;
  return {
    dir: dirName(path),
    prefix,
    digits: digits.length,
    number: Number(digits),
    suffix: `${behind}${path.slice(-ext.length - 1)}`,
  };
}

/**
 * How many frames make a sequence, and how much of the numbered range must be there. Frames of moving-picture formats
 * from three on, whatever is missing (it is reported). Raw frames may be photographs as well: they must be at least
 * half complete. Formats that stills, scans and screenshots use need 24, a second of film, and be half complete too.
 */
export function isSequence(frames: readonly Frame[]): boolean {
  const [first] = frames;
  const numbers = frames.map(({ number }) => number);
  if (first === undefined) return false;
  const ext = first.suffix.slice(first.suffix.lastIndexOf('.') + 1).toLowerCase();
  if (CINEMA_FRAME.has(ext)) return frames.length >= 3;
  const span = maximum(numbers) - minimum(numbers) + 1;
  return frames.length >= (ext === 'dng' ? 3 : 24) && frames.length * 2 >= span;
}

/** The numbers missing between the first and the last, as ranges. Numbers may come in any order. */
export function missingFrames(numbers: readonly number[]): NumberRange[] {
  const sorted = numbers.toSorted((a, b) => a - b);
  const gaps: NumberRange[] = [];
  let previous: number | null = null;
  for (const number of sorted) {
    if (previous !== null && number > previous + 1) gaps.push({ first: previous + 1, last: number - 1 });
    previous = number;
  }
  return gaps;
}

/** What a person calls a sequence: `scan_[0001-0024].dpx`. */
export function sequenceName(frames: readonly Frame[]): string {
  const numbers = frames.map(({ number }) => number);
  const [frame] = frames;
  if (frame === undefined) return '';
  const padded = (number: number) => String(number).padStart(frame.digits, '0');
  return `${frame.prefix}[${padded(minimum(numbers))}-${padded(maximum(numbers))}]${frame.suffix}`;
}

/** Not `Math.min(...numbers)`: a sequence of 200,000 frames would overflow the argument list. */
function minimum(numbers: readonly number[]): number {
  return numbers.reduce((least, number) => Math.min(least, number), Number.POSITIVE_INFINITY);
}

function maximum(numbers: readonly number[]): number {
  return numbers.reduce((most, number) => Math.max(most, number), Number.NEGATIVE_INFINITY);
}
