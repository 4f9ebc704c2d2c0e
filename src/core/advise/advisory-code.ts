import { display } from '../present/escape.ts';
import type { Advisory } from './advisory.ts';

/** No vowels, so that no code is a word, and nothing that looks like something else (0 and o, 1, i and l). */
const LETTERS = 'bcdfghjkmnpqrstvwxz';
const SIGNS = `${LETTERS}23456789`;
const LENGTH = 5;

const encoder = new TextEncoder();

/** So many are named to whoever missed. */
const MOST_NAMED = 8;

/**
 * A short name of an advisory that a person can type: a letter and four letters or digits, out of 10 million. Of the advisory's id
 * alone, so it is the same whenever that advisory is raised, and after every restart. Two advisories may share one.
 */
export function codeOf(id: string): string {
  let rest = hashOf(id);
  let code = LETTERS.charAt(rest % LETTERS.length);
  rest = Math.floor(rest / LETTERS.length);
  while (code.length < LENGTH) {
    code += SIGNS.charAt(rest % SIGNS.length);
    rest = Math.floor(rest / SIGNS.length);
  }
  return code;
}

/** FNV-1a, 32 bits, of the text in UTF-8 (draft-eastlake-fnv). */
function hashOf(text: string): number {
  let hash = 0x811c9dc5;
  for (const byte of encoder.encode(text)) hash = Math.imul(hash ^ byte, 0x01000193);
  return hash >>> 0;
}

/** The one that is called so, by its code or its whole id; in words, when that is not to be told. */
export function advisoryCalled<Standing extends Pick<Advisory, 'id' | 'kind' | 'subject'>>(
  name: string,
  standing: readonly Standing[],
): Standing | string {
  const shown = display(name.trim());
  const whole = standing.find(({ id }) => display(id) === shown);
  if (whole !== undefined) return whole;
  const [only, ...others] = standing.filter(({ id }) => codeOf(id) === shown.toLowerCase());
  if (only !== undefined && others.length === 0) return only;
  if (only !== undefined)
    return `${shown} stands for several: say which by its whole name: ${named([only, ...others])}`;
  const alike = standing.filter(({ kind, subject }) => kind === shown || display(subject) === shown);
  if (alike.length > 0) return `no advisory is called ${shown}; did you mean ${named(alike)}`;
  const which = standing.length === 0 ? 'none stands' : `there are ${named(standing)}`;
  return `no advisory is called ${shown} (one that was may be over); ${which}`;
}

function named(those: readonly Pick<Advisory, 'id'>[]): string {
  const some = those.slice(0, MOST_NAMED).map(({ id }) => `${codeOf(id)} (${display(id)})`);
  const more = those.length - some.length;
  return more > 0 ? `${some.join(', ')} and ${more} more` : some.join(', ');
}
