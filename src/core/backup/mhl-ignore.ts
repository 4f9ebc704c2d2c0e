import { matchSequence } from '../intake/glob.ts';
import { dirName } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';

/** Left out of every list: the folders that histories lie in, and what one system leaves in each folder it shows. */
export const DEFAULT_IGNORE: readonly string[] = ['.DS_Store', 'ascmhl', 'ascmhl/'];

/** The patterns so far and those that come to them: none is ever taken back. */
export function grownIgnore(before: readonly string[], more: readonly string[]): string[] {
  return [...new Set([...before, ...more])];
}

/** One character of a name, or `*`. */
type Sign = '*' | ((character: string) => boolean);
type Name = { plain: string } | { signs: readonly Sign[] };

interface Rule {
  takesBack: boolean;
  foldersOnly: boolean;
  /** `**`: any number of whole names. */
  names: readonly ('**' | Name)[];
}

/**
 * Tells whether patterns leave a path out, as the manual of git has it (gitignore, "Pattern format"): the last pattern that
 * fits decides, and nothing below a folder that is left out comes back. Named classes (`[[:alpha:]]`) are not known.
 * No pattern can make it slow (core/intake/glob.ts).
 */
export function ignoreMatcher(patterns: readonly string[]): (path: PathText, isFolder: boolean) => boolean {
  const rules = patterns.map(compile).filter((rule) => rule !== null);
  const folders = new Map<PathText, boolean>([['', false]]);
  const leavesOut = (path: PathText, isFolder: boolean): boolean => {
    const known = isFolder ? folders.get(path) : undefined;
    if (known !== undefined) return known;
    const answer = leavesOut(dirName(path), true) || isMeant(rules, path, isFolder);
    if (isFolder) folders.set(path, answer);
    return answer;
  };
  return leavesOut;
}

function isMeant(rules: readonly Rule[], path: PathText, isFolder: boolean): boolean {
  const names = path.split('/');
  const last = rules.findLast((rule) => (isFolder || !rule.foldersOnly) && fits(rule.names, names));
  return last !== undefined && !last.takesBack;
}

function compile(pattern: string): Rule | null {
  let text = pattern.replace(/(?<!\\) +$/, '');
  if (text === '' || text.startsWith('#')) return null;
  const takesBack = text.startsWith('!');
  if (takesBack) text = text.slice(1);
  const foldersOnly = text.endsWith('/');
  if (foldersOnly) text = text.slice(0, -1);
  const isAnchored = text.includes('/');
  // An escaped slash within is one like any other.
  const body = text.replace(/^\//, '').replace(/\\([\s\S])/g, (pair, escaped) => (escaped === '/' ? '/' : pair));
  const parts = body.split('/');
  if (!isAnchored) parts.unshift('**');
  const names = parts.map((part, index) => (part === '**' && (isAnchored || index === 0) ? part : nameOf(part)));
  // `a/**` is what lies in a, not a itself.
  if (isAnchored && names.at(-1) === '**') names.push({ signs: ['*'] });
  return names.every((name) => name !== null) ? { takesBack, foldersOnly, names } : null;
}

/** `null`: it fits nothing, as an open bracket or a last backslash. */
function nameOf(part: string): Name | null {
  if (!/[*?[\\]/.test(part)) return part === '' ? null : { plain: part };
  const characters = [...part];
  const signs: Sign[] = [];
  for (let at = 0; at < characters.length; at += 1) {
    const character = characters[at] ?? '';
    if (character === '*') signs.push('*');
    else if (character === '?') signs.push(() => true);
    else if (character === '[') {
      const set = setAt(characters, at + 1);
      if (set === null) return null;
      signs.push(set.fits);
      at = set.end;
    } else {
      if (character === '\\') at += 1;
      const meant = characters[at];
      if (meant === undefined) return null;
      signs.push((one) => one === meant);
    }
  }
  return { signs };
}

/** `[a-z]`, `[!a-z]`, `[]a]`: what it fits, and where its bracket closes. */
function setAt(characters: readonly string[], from: number): { fits: (one: string) => boolean; end: number } | null {
  const isNot = characters[from] === '!' || characters[from] === '^';
  const first = isNot ? from + 1 : from;
  const ranges: [string, string][] = [];
  for (let at = first; at < characters.length; at += 1) {
    if (characters[at] === ']' && at > first) {
      return { fits: (one) => ranges.some(([low, high]) => one >= low && one <= high) !== isNot, end: at };
    }
    if (characters[at] === '\\') at += 1;
    const low = characters[at] ?? '';
    const isRange = characters[at + 1] === '-' && characters[at + 2] !== ']' && characters[at + 2] !== undefined;
    if (isRange) at += characters[at + 2] === '\\' ? 3 : 2;
    ranges.push([low, isRange ? (characters[at] ?? '') : low]);
  }
  return null;
}

function fits(wanted: Rule['names'], names: readonly string[]): boolean {
  return matchSequence(
    wanted.length,
    names.length,
    (at) => wanted[at] === '**',
    (at, name) => fitsName(wanted[at], names[name] ?? ''),
  );
}

function fitsName(wanted: '**' | Name | undefined, name: string): boolean {
  if (wanted === undefined || wanted === '**') return false;
  if ('plain' in wanted) return wanted.plain === name;
  const { signs } = wanted;
  const characters = [...name];
  return matchSequence(
    signs.length,
    characters.length,
    (at) => signs[at] === '*',
    (at, character) => {
      const sign = signs[at];
      return typeof sign === 'function' && sign(characters[character] ?? '');
    },
  );
}
