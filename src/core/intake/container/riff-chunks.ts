import { count, fourcc, type Read, u32le, u64le } from './reading.ts';

/*
 * Chunks of a RIFF file: name (4 bytes), length (4 bytes, little-endian), content, a filler byte behind an odd length.
 * Multimedia Programming Interface and Data Specifications 1.0, 1991; for RF64 and BW64 EBU Tech 3306 and ITU-R BS.2088.
 */

/** Far more chunks than a header has (about twenty, some hundred with many streams); each may cost a read. */
const MAX_CHUNKS = 1024;

/** How many more chunks of one file are followed; below 0: there were more. */
export interface Budget {
  left: number;
}

export function newBudget(): Budget {
  return { left: MAX_CHUNKS };
}

/** An entry of the `ds64` table: chunk name and 64-bit length. */
const LONG_ENTRY = 12;
const MAX_LONG_ENTRIES = 64;

/** What `readSizes` looks at. */
export const SIZES_BYTES = 48 + MAX_LONG_ENTRIES * LONG_ENTRY;

export interface Chunk {
  id: string;
  /** First byte of its content. */
  start: number;
  /** As it holds: that of `ds64` where the chunk's own is all ones. */
  length: number;
}

/** Lengths as they hold: the chunk's own, or for RF64 those of the `ds64` chunk. */
export interface Sizes {
  /** Of the whole form, without its first 8 bytes. */
  form: number;
  /** Sample frames; `null`: not told here. */
  samples: number | null;
  of: (id: string, own: number) => number;
}

/** The form of a RIFF file: what its readers begin with. */
export interface Form {
  sizes: Sizes;
  /** Where its chunks end, inside the file. */
  end: number;
  /** Whether the form states its length and all of it is there. */
  complete: boolean;
}

/** A 32-bit size that is not yet, or not here, given: 0 or all ones. */
export function isOpen(size: number): boolean {
  return size === 0 || size === 0xffff_ffff;
}

/** Sizes from the first `SIZES_BYTES` of the file; `null`: not written yet. */
export function readSizes(head: Uint8Array): Sizes | null {
  const form = u32le(head, 4);
  if (fourcc(head, 0) === 'RIFF') return isOpen(form) ? null : { form, samples: null, of: (_, own) => own };
  if (head.length < 36 || fourcc(head, 12) !== 'ds64') return null;
  const long = u64le(head, 20);
  if (long === 0) return null;
  const samples = head.length < 44 ? 0 : u64le(head, 36);
  const lengths = new Map([...longTable(head), ['data', u64le(head, 28)]] as [string, number][]);
  return {
    form: long,
    samples: samples === 0 ? null : samples,
    of: (id, own) => (own === 0xffff_ffff ? (lengths.get(id) ?? own) : own),
  };
}

/** Chunks other than the sound that are longer than 4 GB. */
function longTable(head: Uint8Array): [string, number][] {
  if (u32le(head, 16) < 28 || head.length < 48) return [];
  const entries = Math.min(u32le(head, 44), MAX_LONG_ENTRIES, Math.floor((u32le(head, 16) - 28) / LONG_ENTRY));
  return Array.from({ length: entries }, (_, index) => 48 + index * LONG_ENTRY)
    .filter((at) => at + LONG_ENTRY <= head.length)
    .map((at) => [fourcc(head, at), u64le(head, at + 4)]);
}

/**
 * The chunks from `start` on that begin before `end`, one read of 8 bytes each, until whoever asks stops asking or the
 * budget is used up. Their content may go beyond `end`, and their names may be anything.
 */
export function* chunksIn(
  read: Read,
  start: number,
  end: number,
  of: Sizes['of'],
  budget: Budget,
): Generator<Chunk, void, undefined> {
  let at = start;
  while (at + 8 <= end) {
    budget.left -= 1;
    if (budget.left < 0) return;
    const head = read(at, 8);
    const id = fourcc(head, 0);
    const length = of(id, u32le(head, 4));
    yield { id, start: at + 8, length };
    at += 8 + length + (length % 2);
  }
}

/** The same up to the first that is none. `troubles` is told of that, and of a budget that is used up. */
export function* namedChunks(
  read: Read,
  start: number,
  end: number,
  of: Sizes['of'],
  budget: Budget,
  troubles: string[],
): Generator<Chunk, void, undefined> {
  const wasEnough = budget.left >= 0;
  for (const chunk of chunksIn(read, start, end, of, budget)) {
    // Names are printable ASCII.
    if (!/^[\x20-\x7e]{4}$/.test(chunk.id)) {
      troubles.push(`there is no chunk at byte ${count(chunk.start - 8)}`);
      return;
    }
    yield chunk;
  }
  if (wasEnough && budget.left < 0) troubles.push('there are more chunks than are looked at');
}

export function u16le(bytes: Uint8Array, at: number): number {
  return (bytes[at] ?? 0) + (bytes[at + 1] ?? 0) * 0x100;
}
