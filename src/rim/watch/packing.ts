import { baseName, joinPath } from '../../core/intake/path-text.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { RootEvent } from '../../core/ports.ts';

/**
 * Many file stats as columns. As objects a listing of 12,000 frames is 1.8 MB, mostly repeated key names, and reading it
 * alone can take the 20 ms that nothing may add to the daemon's loop; as columns it is 0.8 MB and less than half the time.
 */
export interface PackedFiles {
  /** Paths, separated by NUL, which no name holds; in a listing without the folder. */
  names: string;
  /** Size, allocated bytes and links of each file. */
  numbers: Float64Array;
  /** Time of content and time of change of each file, ns. */
  times: BigInt64Array;
  /** Inode and device of each file. */
  ids: BigUint64Array;
}

/** A root event as it travels. */
export type PackedEvent =
  | Exclude<RootEvent, { type: 'listing' | 'files' }>
  | (Omit<Extract<RootEvent, { type: 'listing' }>, 'files'> & { files: PackedFiles })
  | { type: 'files'; files: PackedFiles };

const SEPARATOR = '\0';

export function packEvent(event: RootEvent): PackedEvent {
  if (event.type === 'listing') return { ...event, files: packFiles(event.files, baseName) };
  if (event.type === 'files') return { type: 'files', files: packFiles(event.files, (path) => path) };
  return event;
}

export function unpackEvent(event: PackedEvent): RootEvent {
  if (event.type === 'listing') {
    return { ...event, files: unpackFiles(event.files, (name) => joinPath(event.dir, name)) };
  }
  if (event.type === 'files') return { type: 'files', files: unpackFiles(event.files, (path) => path) };
  return event;
}

function packFiles(files: readonly FileStat[], name: (path: PathText) => string): PackedFiles {
  const numbers = new Float64Array(files.length * 3);
  const times = new BigInt64Array(files.length * 2);
  const ids = new BigUint64Array(files.length * 2);
  for (const [at, file] of files.entries()) {
    numbers[at * 3] = file.size;
    numbers[at * 3 + 1] = file.allocated;
    numbers[at * 3 + 2] = file.nlink;
    times[at * 2] = file.mtimeNs;
    times[at * 2 + 1] = file.ctimeNs;
    ids[at * 2] = file.ino;
    ids[at * 2 + 1] = file.dev;
  }
  return { names: files.map(({ path }) => name(path)).join(SEPARATOR), numbers, times, ids };
}

function unpackFiles({ names, numbers, times, ids }: PackedFiles, path: (name: string) => PathText): FileStat[] {
  if (numbers.length === 0) return [];
  return names.split(SEPARATOR).map((name, at) => ({
    path: path(name),
    size: numbers[at * 3] ?? 0,
    allocated: numbers[at * 3 + 1] ?? 0,
    mtimeNs: times[at * 2] ?? 0n,
    ctimeNs: times[at * 2 + 1] ?? 0n,
    dev: ids[at * 2 + 1] ?? 0n,
    ino: ids[at * 2] ?? 0n,
    nlink: numbers[at * 3 + 2] ?? 0,
  }));
}
