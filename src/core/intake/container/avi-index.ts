import type { AviStream } from './avi-stream.ts';
import { count, fourcc, type Read, u32le, u64le } from './reading.ts';
import { type Chunk, u16le } from './riff-chunks.ts';

/** Longer indexes are not read: the bytes of picture are then not known from here. */
const MAX_INDEX_BYTES = 49_152;
const MAX_PART_INDEXES = 3;
/** Parts of about a gigabyte each. */
const MAX_PARTS = 256;

/** `idx1`: name, flags, offset, length. */
const OLD_ENTRY = 16;

/** OpenDML `indx` and `ix##`: what stands before the entries. */
const INDEX_HEADER = 24;
const INDEX_OF_INDEXES = 0;
const INDEX_OF_CHUNKS = 1;
/** Position (8 bytes), length of the part's index, duration. */
const SUPER_ENTRY = 16;

/** What an index lists of one stream. */
export interface Indexed {
  frames: number;
  bytes: number;
}

/**
 * Chunks of a stream and their bytes by the indexes of all parts (OpenDML), or by `idx1` of a file of one part.
 * @param old `idx1`; `null` where there is none or the file has further parts
 * @returns `null` when there is no index, it is too long to be read, or damaged, which `troubles` is told
 */
export function indexedBytes(
  read: Read,
  size: number,
  stream: AviStream,
  old: Chunk | null,
  troubles: string[],
): Indexed | null {
  const found = byParts(read, stream, troubles) ?? (old === null ? null : byOldIndex(read, stream, old));
  if (found === null || found.bytes <= size) return found;
  troubles.push('the index lists more bytes than there are');
  return null;
}

interface PartIndex {
  start: number;
  length: number;
}

/** Where the indexes of all parts are; none when the file has no index of this kind. */
function partIndexes(read: Read, { superIndex }: AviStream): PartIndex[] {
  if (superIndex === null) return [];
  const table = read(superIndex.start, Math.min(superIndex.length, INDEX_HEADER + MAX_PARTS * SUPER_ENTRY));
  if (u16le(table, 0) !== 4 || table[3] !== INDEX_OF_INDEXES) return [];
  const room = Math.floor((table.length - INDEX_HEADER) / SUPER_ENTRY);
  return Array.from({ length: Math.min(u32le(table, 4), room) }, (_, index) => {
    const at = INDEX_HEADER + index * SUPER_ENTRY;
    return { start: u64le(table, at), length: u32le(table, at + 8) };
  });
}

/** First byte behind the last index of a part; 0: there is none. The file is at least so long. */
export function partsEnd(read: Read, stream: AviStream): number {
  return partIndexes(read, stream).reduce((end, { start, length }) => Math.max(end, start + length), 0);
}

function byParts(read: Read, stream: AviStream, troubles: string[]): Indexed | null {
  const indexes = partIndexes(read, stream);
  const length = indexes.reduce((sum, index) => sum + index.length, 0);
  if (indexes.length === 0 || indexes.length > MAX_PART_INDEXES || length > MAX_INDEX_BYTES) return null;
  const total: Indexed = { frames: 0, bytes: 0 };
  for (const index of indexes) {
    // Some writers count the chunk's own header of 8 bytes in, some do not.
    const part = readPart(read(index.start, index.length + 8));
    if (part === null) {
      troubles.push(`there is no index of a part at byte ${count(index.start)}`);
      return null;
    }
    total.frames += part.frames;
    total.bytes += part.bytes;
  }
  return total;
}

/** One `ix##` chunk. An entry is offset and length, and for fields the offset of the second; bit 31: no key frame. */
function readPart(chunk: Uint8Array): Indexed | null {
  const step = u16le(chunk, 8) * 4;
  const entries = u32le(chunk, 12);
  if (!fourcc(chunk, 0).startsWith('ix') || chunk[11] !== INDEX_OF_CHUNKS || step < 8) return null;
  if (8 + INDEX_HEADER + entries * step > chunk.length) return null;
  let bytes = 0;
  for (let index = 0; index < entries; index += 1) {
    bytes += u32le(chunk, 8 + INDEX_HEADER + index * step + 4) % 0x8000_0000;
  }
  return { frames: entries, bytes };
}

/** Chunks `00dc`, `00db`, `00__`; a palette change (`00pc`) is no frame. */
function byOldIndex(read: Read, { number }: AviStream, { start, length }: Chunk): Indexed | null {
  if (length > MAX_INDEX_BYTES) return null;
  const table = read(start, length);
  const name = String(number).padStart(2, '0');
  const total: Indexed = { frames: 0, bytes: 0 };
  for (let at = 0; at + OLD_ENTRY <= table.length; at += OLD_ENTRY) {
    const id = fourcc(table, at);
    if (!id.startsWith(name) || id.endsWith('pc')) continue;
    total.frames += 1;
    total.bytes += u32le(table, at + 12);
  }
  return total.frames === 0 ? null : total;
}
