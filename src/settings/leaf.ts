import { z } from 'zod';
import { parseFolderName, parseName, parsePath } from './places.ts';
import type { Reading } from './reading.ts';
import {
  DURATION_PATTERN,
  parseDuration,
  parseShare,
  parseSize,
  parseSpeed,
  SHARE_PATTERN,
  SIZE_PATTERN,
  SPEED_PATTERN,
} from './units.ts';

/**
 * Building stones of the schema. The error message of each is what was *expected*, nothing else: what was found and
 * where is added by whoever reads the issues. `params.hint` of an issue is the hint of the reading.
 */
export function written<T>(
  expected: string,
  pattern: string | null,
  examples: string[],
  read: (text: string) => Reading<T>,
) {
  const plain = z.string({ error: expected }).meta({ examples, ...(pattern === null ? {} : { pattern }) });
  return plain.transform((text, context) => settle(expected, read(text), context));
}

/** The value of a reading, or an issue with what was expected and the hint. */
export function settle<T>(expected: string, reading: Reading<T>, context: z.core.$RefinementCtx): T {
  if (reading.ok) return reading.value;
  context.addIssue({ code: 'custom', message: expected, params: { hint: reading.hint } });
  return z.NEVER;
}

/** A list whose items have their own expectation. */
export function listOf<Item extends z.ZodType>(item: Item, expected: string) {
  return z.array(item, { error: expected });
}

export function wholeNumber(expected: string, least: number, most: number) {
  const error = { error: expected };
  return z.number(error).int(error).min(least, error).max(most, error);
}

export function flag(expected: string) {
  return z.boolean({ error: expected });
}

export function oneOf<const Names extends readonly string[]>(names: Names) {
  return z.enum(names, { error: `one of ${names.map((name) => `"${name}"`).join(', ')}` });
}

export function name(what: string, example: string) {
  return written(`${what} like "${example}"`, null, [example], parseName);
}

export function path(example: string) {
  return written(
    `a path from the root, like "${example}", or from your home folder, like "~/footage"`,
    '^(/|~/|~$)',
    [example],
    parsePath,
  );
}

export function folderName(what = 'the name of a first-level folder', example = 'renders') {
  return written(`${what}, like "${example}"`, null, [example], parseFolderName);
}

/** A share from 0 to below `limit` (1 is 100 %), or up to it. */
export function share(example: string, least: number, most: number, limits: string) {
  const expected = `a share like "${example}", ${limits}`;
  return written(expected, SHARE_PATTERN, [example], (text) => within(parseShare(text), least, most));
}

/** Seconds, both ends included. */
export function duration(example: string, least: string, most: string) {
  const expected = `a duration like "${example}", from ${least} to ${most}`;
  const [low, high] = [secondsOf(least), secondsOf(most)];
  return written(expected, DURATION_PATTERN, [example], (text) => within(parseDuration(text), low, high));
}

export function speed(example: string) {
  const aboveZero = (text: string) => within(parseSpeed(text), Number.MIN_VALUE, Number.MAX_SAFE_INTEGER);
  return written(`a speed like "${example}"`, SPEED_PATTERN, [example], aboveZero);
}

/** Room kept free: a share of the volume, or bytes. */
export function room() {
  const expected = 'a share like "10%" or a size like "500 GB"';
  return written(expected, `${SHARE_PATTERN}|${SIZE_PATTERN}`, ['10%', '500 GB'], parseRoom);
}

function parseRoom(text: string): Reading<{ share: number } | { bytes: number }> {
  if (!text.includes('%')) {
    const size = parseSize(text);
    return size.ok ? { ok: true, value: { bytes: size.value } } : size;
  }
  const part = parseShare(text);
  if (part.ok && part.value >= 1) return { ok: false, hint: 'with all of it kept free nothing may be written' };
  return part.ok ? { ok: true, value: { share: part.value } } : part;
}

function within(reading: Reading<number>, least: number, most: number): Reading<number> {
  if (!reading.ok || (reading.value >= least && reading.value <= most)) return reading;
  return { ok: false, hint: null };
}

/** Seconds of a duration that stands in our own source. */
function secondsOf(text: string): number {
  const reading = parseDuration(text);
  if (!reading.ok) throw new Error(`not a duration: ${text}`);
  return reading.value;
}

/** A table that knows its keys and no others. */
export function table<Shape extends z.ZodRawShape>(expected: string, shape: Shape) {
  return z.strictObject(shape, { error: expected });
}

/** What a setting is for and, where it may be left away, what holds then and why. Editors show it. */
export function about(what: string, otherwise?: { value: string | number | boolean | string[]; why: string }) {
  if (otherwise === undefined) return { description: what };
  return { description: `${what} Default ${JSON.stringify(otherwise.value)}: ${otherwise.why}` };
}
