import { baseName } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';
import type { KnownFile, MhlHistory } from './mhl-history.ts';
import { ignoreMatcher } from './mhl-ignore.ts';
import { HASH_FORMATS, type HashFormat, type NowFile } from './mhl-model.ts';

/**
 * What became of a file, as the specification tells them apart (5.6.4). `unproved`: it is known and there, but no value
 * of it was made in a format that the history vouches for.
 */
export type FileVerdict =
  | { kind: 'intact'; file: NowFile }
  | { kind: 'renamed'; file: NowFile; from: PathText }
  /** `wrong`: formats that differ; none when the sizes alone do. `from`: where it lay, when it was moved as well. */
  | { kind: 'altered'; file: NowFile; wrong: readonly HashFormat[]; from: PathText | null }
  | { kind: 'new'; file: NowFile }
  | { kind: 'unproved'; file: NowFile }
  | { kind: 'missing'; path: PathText; size: number | null };

export interface Compared {
  /** Everything that is below the history's root was looked at: what was not found is missing, or renamed. */
  whole: boolean;
  /** Patterns of what is left out now; the history's own hold as well. */
  ignore: readonly string[];
}

/** What a history says in all. */
type Known = Pick<MhlHistory, 'files' | 'ignore'>;

/**
 * Sets what is there now beside what a history knows.
 * @param now files of this history alone, each path once, those that are left out included or not
 */
export function compare(history: Known, now: readonly NowFile[], { whole, ignore }: Compared): FileVerdict[] {
  const isIgnored = ignoreMatcher([...history.ignore, ...ignore]);
  const here = now.filter(({ path }) => !isIgnored(path, false));
  const moved = movedFiles(history, here);
  // What lay there is told to lie elsewhere: whatever has its path now is another file.
  const left = new Set(moved.values());
  const found = new Set(left);
  const verdicts: FileVerdict[] = [];
  const strangers: NowFile[] = [];
  for (const file of here) {
    const there = history.files.get(file.path);
    const known = moved.get(file) ?? (there === undefined || left.has(there) ? undefined : there);
    if (known === undefined) strangers.push(file);
    else {
      found.add(known);
      verdicts.push(judge(file, known, moved.has(file) ? known.path : null));
    }
  }
  if (!whole) return [...verdicts, ...strangers.map((file) => ({ kind: 'new' as const, file }))];
  const lost = [...history.files.values()].filter((known) => !found.has(known) && !isIgnored(known.path, false));
  return [...verdicts, ...matchRenamed(strangers, lost)];
}

/** Files whose earlier path is told, with what is known of that; each counts once. */
function movedFiles(history: Known, here: readonly NowFile[]): Map<NowFile, KnownFile> {
  const moved = new Map<NowFile, KnownFile>();
  const taken = new Set<KnownFile>();
  for (const file of here) {
    if (file.previousPath === null || file.previousPath === file.path) continue;
    const known = history.files.get(file.previousPath);
    if (known === undefined || taken.has(known)) continue;
    taken.add(known);
    moved.set(file, known);
  }
  return moved;
}

function judge(file: NowFile, known: KnownFile, from: PathText | null): FileVerdict {
  const both = HASH_FORMATS.filter((format) => file.values[format] !== undefined && known.values[format] !== undefined);
  const wrong = both.filter((format) => file.values[format] !== known.values[format]);
  if (wrong.length > 0) return { kind: 'altered', file, wrong, from };
  if (both.length === 0) {
    const differs = known.size !== null && known.size !== file.size;
    return differs ? { kind: 'altered', file, wrong: [], from } : { kind: 'unproved', file };
  }
  return from === null ? { kind: 'intact', file } : { kind: 'renamed', file, from };
}

/**
 * A file that is new and one that is missing, of the same content, are one that was renamed. Of several with the same
 * content those of one name belong together, then each takes the next. Empty files are all alike, and say nothing.
 */
function matchRenamed(strangers: readonly NowFile[], lost: readonly KnownFile[]): FileVerdict[] {
  const index = new Map<string, Set<KnownFile>>();
  for (const known of lost) {
    if (known.size === 0) continue;
    for (const key of [...keysOf(known, true), ...keysOf(known, false)]) {
      const same = index.get(key);
      if (same === undefined) index.set(key, new Set([known]));
      else same.add(known);
    }
  }
  const origin = new Map<NowFile, KnownFile>();
  const taken = new Set<KnownFile>();
  for (const withName of [true, false]) {
    for (const file of strangers) {
      if (file.size === 0 || origin.has(file)) continue;
      const known = originOf(file, keysOf(file, withName), index);
      if (known === null) continue;
      origin.set(file, known);
      taken.add(known);
      for (const key of [...keysOf(known, true), ...keysOf(known, false)]) index.get(key)?.delete(known);
    }
  }
  return [
    ...strangers.map((file): FileVerdict => {
      const known = origin.get(file);
      return known === undefined ? { kind: 'new', file } : { kind: 'renamed', file, from: known.path };
    }),
    ...lost
      .filter((known) => !taken.has(known))
      .map(({ path, size }): FileVerdict => ({ kind: 'missing', path, size })),
  ];
}

function originOf(
  file: NowFile,
  keys: readonly string[],
  index: ReadonlyMap<string, ReadonlySet<KnownFile>>,
): KnownFile | null {
  for (const key of keys) {
    for (const known of index.get(key) ?? []) {
      if (judge(file, known, known.path).kind === 'renamed' && (known.size ?? file.size) === file.size) return known;
    }
  }
  return null;
}

/** What files of one content share: a value, with or without their own name. */
function keysOf({ path, values }: KnownFile | NowFile, withName: boolean): string[] {
  const name = withName ? `/${baseName(path)}` : '';
  return HASH_FORMATS.flatMap((format) => (values[format] === undefined ? [] : [`${format}:${values[format]}${name}`]));
}
