import type { InventoryFile } from '../../core/cards/inventory.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { ManifestOutcome, RootEvent } from '../../core/root-port.ts';
import type { Steps } from './slices.ts';

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

/**
 * Some files of a folder, ahead of its listing, which then has the rest alone. `first`: whatever parts of this folder came
 * before count no more.
 */
export interface Part {
  type: 'part';
  dir: PathText;
  first: boolean;
  files: FileStat[];
}

/** What a root's process tells: the events of the root, a large listing cut up. */
export type ChildEvent = RootEvent | Part;

/** The same as it travels. */
export type PackedEvent =
  | Exclude<RootEvent, { type: 'listing' | 'files' }>
  | Packed<Extract<ChildEvent, { type: 'listing' | 'files' | 'part' }>>;

type Packed<Event> = Event extends { files: unknown } ? Omit<Event, 'files'> & { files: PackedFiles } : never;

const SEPARATOR = '\0';

export function packEvent(event: ChildEvent): PackedEvent {
  if (event.type === 'files') return { ...event, files: packFiles(event.files, (path) => path) };
  if (event.type !== 'listing' && event.type !== 'part') return event;
  const from = event.dir === '' ? 0 : event.dir.length + 1;
  return { ...event, files: packFiles(event.files, (path) => path.slice(from)) };
}

export function unpackEvent(event: PackedEvent): ChildEvent {
  if (event.type === 'files') return { ...event, files: unpackFiles(event.files, '') };
  if (event.type !== 'listing' && event.type !== 'part') return event;
  return { ...event, files: unpackFiles(event.files, event.dir === '' ? '' : `${event.dir}/`) };
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

function unpackFiles({ names, numbers, times, ids }: PackedFiles, prefix: string): FileStat[] {
  if (numbers.length === 0) return [];
  // One file has the device of the one before, and its two times are often one: shared, they are half of the big numbers,
  // which the collector would have to move while the daemon waits.
  let dev = 0n;
  return names.split(SEPARATOR).map((name, at) => {
    const itsDev = ids[at * 2 + 1] ?? 0n;
    if (itsDev !== dev) dev = itsDev;
    const mtimeNs = times[at * 2] ?? 0n;
    const changed = times[at * 2 + 1] ?? 0n;
    return {
      path: prefix + name,
      size: numbers[at * 3] ?? 0,
      allocated: numbers[at * 3 + 1] ?? 0,
      mtimeNs,
      ctimeNs: changed === mtimeNs ? mtimeNs : changed,
      dev,
      ino: ids[at * 2] ?? 0n,
      nlink: numbers[at * 3 + 2] ?? 0,
    };
  });
}

type Manifest = Extract<ManifestOutcome, { ok: true }>;

/** A manifest's files as columns: there may be as many as on a volume. Numbers: size and time of each; NaN: not known. */
export type PackedManifest =
  | Exclude<ManifestOutcome, Manifest>
  | (Omit<Manifest, 'files'> & { names: string; numbers: Float64Array });

export function packManifest(outcome: ManifestOutcome): PackedManifest {
  if (!outcome.ok) return outcome;
  const { files, ...rest } = outcome;
  const numbers = new Float64Array(files.length * 2);
  for (const [at, { size, mtimeMs }] of files.entries()) {
    numbers[at * 2] = size ?? Number.NaN;
    numbers[at * 2 + 1] = mtimeMs ?? Number.NaN;
  }
  return { ...rest, names: files.map(({ path }) => path).join(SEPARATOR), numbers };
}

/** In steps, for the loop to turn in between. */
export function* unpackManifest(packed: PackedManifest): Steps<ManifestOutcome> {
  if (!packed.ok) return packed;
  const { names, numbers, ...rest } = packed;
  const files: InventoryFile[] = [];
  const known = (value = Number.NaN): number | null => (Number.isNaN(value) ? null : value);
  for (const [at, path] of numbers.length === 0 ? [] : names.split(SEPARATOR).entries()) {
    files.push({ path, size: known(numbers[at * 2]), mtimeMs: known(numbers[at * 2 + 1]) });
    if (at % 1000 === 999) yield undefined;
  }
  return { ...rest, files };
}
