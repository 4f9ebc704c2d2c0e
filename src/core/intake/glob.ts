/**
 * Exact matching of path patterns: `*` any characters within a name, `?` one character within a name, `**` any number
 * of whole names. Everything else stands for itself. Case counts; accents match whether stored composed or not.
 *
 * No pattern can make it slow: both levels only ever go back to their last wildcard, so the work is bounded by the
 * length of the pattern times the length of the path.
 */
export interface Glob {
  readonly text: string;
  matches(path: string): boolean;
}

/** A pattern for whole paths: every name of the path must be accounted for. */
export function compileGlob(text: string): Glob {
  const wanted = compose(text).split('/');
  return { text, matches: (path) => matchNames(wanted, compose(path).split('/')) };
}

/**
 * A pattern as it stands in a list of things to leave out. With a `/` in it, it is held against the path from the root;
 * without, against every name in the path. In both cases what it matches is left out with everything below.
 */
export function compileIgnore(text: string): Glob {
  const trimmed = compose(text).replace(/\/+$/, '');
  const wanted = trimmed.replace(/^\/+/, '').split('/');
  const [only = ''] = wanted;
  if (!trimmed.includes('/')) {
    return {
      text,
      matches: (path) =>
        compose(path)
          .split('/')
          .some((name) => matchName(only, name)),
    };
  }
  return { text, matches: (path) => matchesAncestor(wanted, compose(path).split('/')) };
}

function matchesAncestor(wanted: readonly string[], names: readonly string[]): boolean {
  return names.some((_name, index) => matchNames(wanted, names.slice(0, index + 1)));
}

function matchNames(wanted: readonly string[], names: readonly string[]): boolean {
  return matchSequence(
    wanted.length,
    names.length,
    (at) => wanted[at] === '**',
    (at, name) => matchName(wanted[at] ?? '', names[name] ?? ''),
  );
}

function matchName(wanted: string, name: string): boolean {
  if (wanted === '*' || wanted === '**') return true;
  if (!/[*?]/.test(wanted)) return wanted === name;
  const pattern = [...wanted];
  const characters = [...name];
  return matchSequence(
    pattern.length,
    characters.length,
    (at) => pattern[at] === '*',
    (at, character) => pattern[at] === '?' || pattern[at] === characters[character],
  );
}

/**
 * Matches a sequence of items against a pattern whose wildcards stand for any number of items. On a mismatch it is
 * enough to let the LAST wildcard take one item more: an earlier one could only cover what the last one can.
 */
export function matchSequence(
  patternLength: number,
  length: number,
  isWildcard: (at: number) => boolean,
  fits: (at: number, item: number) => boolean,
): boolean {
  let at = 0;
  let item = 0;
  let wildcard = -1;
  let taken = 0;
  while (item < length) {
    if (at < patternLength && isWildcard(at)) {
      wildcard = at;
      taken = item;
      at += 1;
    } else if (at < patternLength && fits(at, item)) {
      at += 1;
      item += 1;
    } else if (wildcard >= 0) {
      taken += 1;
      item = taken;
      at = wildcard + 1;
    } else {
      return false;
    }
  }
  while (at < patternLength && isWildcard(at)) at += 1;
  return at === patternLength;
}

/** File systems differ in how they store accents; a pattern typed in a configuration must match either way. */
function compose(text: string): string {
  return text.normalize('NFC');
}
