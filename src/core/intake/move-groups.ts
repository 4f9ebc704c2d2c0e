import type { PathText } from '../model.ts';

/** Files that moved in one go, as a person would say it: a file, or a folder with what is below it. */
export interface MoveGroup {
  /** What moved, by its old and its new path: the innermost folder that all the files are below. */
  from: PathText;
  to: PathText;
  /** The folders above it, outermost first, that may be what moved: the first that is gone from its old place is. */
  above: { from: PathText; to: PathText }[];
  files: number;
  bytes: number;
  /** `file`: it alone. `tree`: what was below `from` is below `to`, under the same names. `names`: the names are others. */
  of: 'file' | 'tree' | 'names';
}

/** Moves gathered up to now, by what they have in common; as many entries as there are independent moves. */
export type MoveTally = Map<string, Tally>;

interface Tally {
  /** Where the two paths differ: everything behind is the same. */
  from: string[];
  to: string[];
  /** Folders that all files have in common behind that. */
  common: string[];
  files: number;
  bytes: number;
  last: { from: PathText; to: PathText };
}

/** Adds one file. Which folder was moved is seen from the longest end that its old and its new path have in common. */
export function tallyMove(
  tally: MoveTally,
  { from, to, bytes }: { from: PathText; to: PathText; bytes: number },
): void {
  const was = from.split('/');
  const is = to.split('/');
  let same = 0;
  while (same < Math.min(was.length, is.length) && was.at(-1 - same) === is.at(-1 - same)) same += 1;
  // Another name: told with all others that went from this folder to that under other names.
  const cut = Math.max(same, 1);
  const [oldHead, newHead] = [was.slice(0, -cut), is.slice(0, -cut)];
  const folders = same === 0 ? [] : was.slice(-cut, -1);
  const key = JSON.stringify([same === 0, oldHead, newHead]);
  const known = tally.get(key);
  tally.set(key, {
    from: oldHead,
    to: newHead,
    common: known === undefined ? folders : sharedStart(known.common, folders),
    files: (known?.files ?? 0) + 1,
    bytes: (known?.bytes ?? 0) + bytes,
    last: { from, to },
  });
}

/** The moves, largest first. */
export function moveGroups(tally: MoveTally): MoveGroup[] {
  return [...tally].map(([key, each]) => groupOf(each, key.startsWith('[true'))).toSorted((a, b) => b.bytes - a.bytes);
}

function groupOf({ from, to, common, files, bytes, last }: Tally, otherNames: boolean): MoveGroup {
  if (files === 1) return { ...last, above: [], files, bytes, of: 'file' };
  const levels = [...common.keys(), common.length].map((depth) => ({
    from: [...from, ...common.slice(0, depth)].join('/'),
    to: [...to, ...common.slice(0, depth)].join('/'),
  }));
  const innermost = levels.pop() ?? last;
  return { ...innermost, above: levels, files, bytes, of: otherNames ? 'names' : 'tree' };
}

function sharedStart(one: readonly string[], other: readonly string[]): string[] {
  const end = one.findIndex((name, at) => name !== other[at]);
  return one.slice(0, end === -1 ? one.length : end);
}
