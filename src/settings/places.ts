import { posix } from 'node:path';
import { type Reading, refused, understood } from './reading.ts';
import { visible } from './show.ts';

const LONGEST_NAME = 64;

/** A name that people type and read: 1 to 64 characters that can be seen, no space at either end. */
export function parseName(text: string): Reading<string> {
  if (text === '') return refused('a name cannot be empty');
  if (visible(text) !== text) return refused('only characters that can be seen');
  if (text.trim() !== text) return refused('there is a space at one end');
  return [...text].length <= LONGEST_NAME ? understood(text) : refused(`at most ${LONGEST_NAME} characters`);
}

/** A folder from the root (`/`) or from the home folder (`~/`), as written. `placePath` makes it absolute. */
export function parsePath(text: string): Reading<string> {
  if (text.includes('\0')) return refused('no path holds a zero character');
  if (text.startsWith('/') || text.startsWith('~/') || text === '~') return understood(text);
  if (text.startsWith('~')) return refused('only ~/, your own home folder, is expanded');
  if (text.startsWith('$')) return refused('variables are not expanded; ~/ stands for your home folder');
  return refused(text.trim().startsWith('/') ? 'there is a space in front' : null);
}

/** The absolute, plain form of a path that `parsePath` accepted: home folder filled in, no `.`, `..`, `//` or final `/`. */
export function placePath(written: string, homeDir: string): string {
  const absolute = written.startsWith('~') ? posix.join(homeDir, written.slice(1)) : written;
  return withoutFinalSlash(posix.normalize(absolute));
}

/** Does `outer` hold `inner`, or are they the same? Both absolute and plain; names are compared, nothing is looked up. */
export function holds(outer: string, inner: string): boolean {
  return inner === outer || inner.startsWith(outer === '/' ? '/' : `${outer}/`);
}

/** A folder below the volume, "Footage" or "Day 1/Footage": relative, never leading out again. */
export function parseFolderBelow(text: string): Reading<string> {
  if (text.startsWith('/') || text.startsWith('~')) return refused('it is counted from the path of the volume');
  const plain = withoutFinalSlash(posix.normalize(text));
  if (text === '' || text.includes('\0') || plain === '.') return refused();
  return plain === '..' || plain.startsWith('../') ? refused('it must lie below the volume') : understood(plain);
}

/** One name of a first-level folder. */
export function parseFolderName(text: string): Reading<string> {
  const plain = text.replace(/\/+$/, '');
  if (plain.includes('/')) return refused('one name alone, so without "/"');
  return plain === '' || plain === '.' || plain === '..' || plain.includes('\0') ? refused() : understood(plain);
}

/** A pattern below the volume, for `path.matchesGlob`. */
export function parsePattern(text: string): Reading<string> {
  if (text.startsWith('/') || text.startsWith('~')) return refused('it is counted from the path of the volume');
  const leadsOut = text.split('/').includes('..');
  return text === '' || text.includes('\0') || leadsOut ? refused() : understood(text);
}

function withoutFinalSlash(path: string): string {
  return path.length > 1 && path.endsWith('/') ? path.slice(0, -1) : path;
}
