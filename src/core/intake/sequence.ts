import type { PathText } from '../model.ts';
import { CINEMA_FRAME, FRAME } from './extensions.ts';
import { dirName, extension, stem } from './path-text.ts';

/** A numbered frame: `dir/prefix` + number of `digits` digits + `suffix` (the extension as written, with its dot). */
export interface Frame {
  dir: PathText;
  prefix: string;
  digits: number;
  number: number;
  suffix: string;
}

export interface FrameRange {
  first: number;
  last: number;
}

/** The last run of at least four digits, directly before the extension; more than 15 would not fit a number exactly. */
const NUMBERED = /^(.*?)(\d{4,15})$/s;

/**
 * A camera still: four free characters and a number of four digits, the file names of the DCF standard (CIPA DC-009,
 * from memory). A card of photographs counts up just as frames do, so such names are never taken as frames.
 */
const CAMERA_STILL = /^[A-Z0-9_]{4}\d{4}$/i;

/** Reads a path as a numbered frame; `null` when it is none. */
export function frameOf(path: PathText): Frame | null {
  const ext = extension(path);
  if (!FRAME.has(ext)) return null;
  const base = stem(path);
  const match = NUMBERED.exec(base);
  const [, prefix, digits] = match ?? [];
  if (prefix === undefined || digits === undefined) return null;
  if (/\d$/.test(prefix)) return null;
  if (!CINEMA_FRAME.has(ext) && !ext.startsWith('tif') && CAMERA_STILL.test(base)) return null;
  return {
    dir: dirName(path),
    prefix,
    digits: digits.length,
    number: Number(digits),
    suffix: path.slice(-ext.length - 1),
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
  const ext = first.suffix.slice(1).toLowerCase();
  if (CINEMA_FRAME.has(ext)) return frames.length >= 3;
  const span = maximum(numbers) - minimum(numbers) + 1;
  return frames.length >= (ext === 'dng' ? 3 : 24) && frames.length * 2 >= span;
}

/** The numbers missing between the first and the last, as ranges. Numbers may come in any order. */
export function missingFrames(numbers: readonly number[]): FrameRange[] {
  const sorted = numbers.toSorted((a, b) => a - b);
  const gaps: FrameRange[] = [];
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
