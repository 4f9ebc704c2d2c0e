import { baseName, dirName, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';

/** What is remembered of a folder: never of a file. */
export interface FolderMark {
  ino: bigint;
  /** Its time when it was last read. */
  readMtimeNs: bigint;
  /** Its time up to which reading and events together account for every name. */
  knownMtimeNs: bigint;
  /** Wall clock of the last read, ms. */
  readAt: number;
  /** Everything in it could be read. */
  complete: boolean;
  /** Files in it when it was last read. */
  count: number;
  /** Names of the folders in it. */
  names: Set<PathText>;
  /** Of the content as it was last read (digest.ts); `null` where nobody asks for it. */
  digest: string | null;
  /** Wall clock of the last read that found it changed, ms. */
  changedAt: number;
}

/** A time stamp may be as coarse as this (FAT: 2 s): a change right after a read need not show in it. */
const COARSEST_STAMP_MS = 2000;

/** To read a folder and compare it with what is known may take this share of the time: one file costs some 0.1 ms in all. */
const READ_AGAIN_PER_FILE_MS = 20;

/** Where something changed in the last ten minutes, more is likely to. */
const LATELY_MS = 600_000;

/** Marks of all folders known to be there, by path. */
export class Folders {
  readonly #marks = new Map<PathText, FolderMark>();

  get size(): number {
    return this.#marks.size;
  }

  paths(): PathText[] {
    return [...this.#marks.keys()];
  }

  get(path: PathText): FolderMark | undefined {
    return this.#marks.get(path);
  }

  put(path: PathText, mark: FolderMark): void {
    this.#marks.set(path, mark);
    if (path !== '') this.#marks.get(dirName(path))?.names.add(baseName(path));
  }

  /** Forgets a folder and all below it; the answer names those that were known. */
  drop(path: PathText): PathText[] {
    const dropped: PathText[] = [];
    const below = [path];
    for (let next = below.pop(); next !== undefined; next = below.pop()) {
      const mark = this.#marks.get(next);
      if (mark === undefined) continue;
      this.#marks.delete(next);
      dropped.push(next);
      for (const name of mark.names) below.push(joinPath(next, name));
    }
    if (path !== '') this.#marks.get(dirName(path))?.names.delete(baseName(path));
    return dropped;
  }

  /** Folders that changed lately, the last one first. */
  lately(now: number): PathText[] {
    return [...this.#marks]
      .filter(([, mark]) => Math.abs(now - mark.changedAt) < LATELY_MS)
      .sort(([, a], [, b]) => b.changedAt - a.changedAt)
      .map(([path]) => path);
  }
}

/** Whether a folder was read so short a time ago that events are to be trusted in it, for what it would cost to read it again. */
export function wasReadLately({ readAt, count }: FolderMark, now: number): boolean {
  return Math.abs(now - readAt) < count * READ_AGAIN_PER_FILE_MS;
}

/**
 * Whether a folder must be read again: another folder, another time, a time so close to the last read that a later
 * change could hide behind it, or something that could not be read last time (rights change without a trace here).
 * `trustEvents`: names that events told of need not be read again.
 */
export function needsReading(
  mark: FolderMark,
  now: { ino: bigint; mtimeNs: bigint },
  trustEvents: boolean,
): 'other-folder' | 'incomplete' | 'changed' | 'too-fresh' | null {
  if (mark.ino !== now.ino) return 'other-folder';
  if (!mark.complete) return 'incomplete';
  const known = trustEvents ? mark.knownMtimeNs : mark.readMtimeNs;
  if (now.mtimeNs !== known) return 'changed';
  const eventsTold = trustEvents && mark.knownMtimeNs !== mark.readMtimeNs;
  const age = mark.readAt - Number(now.mtimeNs / 1_000_000n);
  return !eventsTold && Math.abs(age) < COARSEST_STAMP_MS ? 'too-fresh' : null;
}
