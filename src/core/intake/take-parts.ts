import type { FileRecord, NumberRange } from '../model.ts';
import type { TakeName } from './card-layout.ts';
import { extension } from './path-text.ts';
import { missingFrames } from './sequence.ts';
import { takeOf } from './take-name.ts';

/** Essence files that are one recording, in playing order. */
export interface Recording {
  files: FileRecord[];
  /** What the name of the first tells. */
  take: TakeName;
  /** Numbers of parts, from 1 in playing order, that the names of the others say must be there. */
  missingParts: NumberRange[];
}

/**
 * Sorts the essence of one unit into recordings, by name alone. A second file with the number of another (`GX010123.MP4` and
 * `gx010123.mp4`) cannot be of the same recording, and is one by itself. A pure function of the set.
 */
export function recordingsOf(files: readonly FileRecord[]): Recording[] {
  const groups = new Map<string, FileRecord[]>();
  const numbers = new Set<string>();
  for (const file of files.toSorted(byPath)) {
    const { recording, relation, part, sound } = takeOf(file.path);
    const own = JSON.stringify([file.kind, recording, sound, extension(file.path), relation]);
    const numbered = `${own}${part}`;
    const isSecond = part !== null && numbers.has(numbered);
    numbers.add(numbered);
    const key = isSecond || (relation === null && !sound) ? file.path : own;
    groups.set(key, [...(groups.get(key) ?? []), file]);
  }
  return [...groups.values()].map(recordingOf);
}

function recordingOf(files: readonly FileRecord[]): Recording {
  const named = files.map((file) => ({ file, take: takeOf(file.path) }));
  const sorted = named.toSorted((a, b) => (a.take.part ?? 0) - (b.take.part ?? 0) || byPath(a.file, b.file));
  const [first] = sorted;
  if (first === undefined) throw new RangeError('a recording without files');
  const parts = sorted.map(({ take }) => take.part).filter((part) => part !== null);
  const counts = first.take.relation === 'spans' || first.take.relation === 'lenses';
  const missingParts = counts && parts.length > 0 ? missingFrames([0, ...parts]) : [];
  return { files: sorted.map(({ file }) => file), take: first.take, missingParts };
}

/** Order of paths, the same on every machine. */
export function byPath(a: FileRecord, b: FileRecord): number {
  return a.path < b.path ? -1 : a.path > b.path ? 1 : 0;
}
