import { isFill, KEY_BYTES, KLV_HEAD, klvAt, readLength } from './mxf-klv.ts';
import { type Read, startsWith, u32be, u64be } from './reading.ts';
import { MXF_PARTITION_KEY } from './sniff.ts';

/** Random index pack key, SMPTE ST 377-1 clause 12. */
const RANDOM_INDEX_KEY: readonly number[] = [6, 0x0e, 0x2b, 0x34, 2, 5, 1, 1, 0x0d, 1, 2, 1, 1, 0x11, 1, 0];

const MAX_FILL = 16;

/** Fixed part of a partition pack, up to the labels of the essence containers (ST 377-1 clause 7.1). */
const PACK_BYTES = 88;

/** Where the end of the file is read, this much: the random index pack, and the footer in front of it where it is small. */
const END_BYTES = 16_384;

/** Body stream id (4 bytes) and position of its partition (8 bytes). */
const ENTRY_BYTES = 12;
/** Far more partitions than a real file has: one pack of this many entries has 12 MB. */
const MAX_PARTITIONS = 1_000_000;
/** Of a longer pack only the last entry is looked at. */
const LISTED_PARTITIONS = 2048;

export interface Partition {
  /** 2 header, 3 body, 4 footer. */
  kind: number;
  /** 1 open and incomplete, 2 closed and incomplete, 3 open and complete, 4 closed and complete. */
  status: number;
  at: number;
  /** Where the partition in front of it begins, counted from the header partition. */
  previous: number;
  /** Where the footer partition begins, counted from the header partition; 0: not known when this was written. */
  footer: number;
  /** First byte of the header metadata, and how many there are of it, closing fill included. */
  metadata: number;
  metadataBytes: number;
  /** First byte of the index table segments, and how many there are. */
  index: number;
  indexBytes: number;
  indexId: number;
  /** Which essence is in it; 0: none. */
  bodyId: number;
  /** Bytes of that essence in earlier partitions. */
  bodyOffset: number;
  /** Padding grid of this partition; 0 not told, 1 none. */
  grid: number;
  /** Label of the operational pattern; empty where the pack is too short. */
  pattern: Uint8Array;
  /** First byte behind the partition's pack, metadata and index: essence, if it has any. */
  end: number;
}

/** Reads one partition pack (ST 377-1 clause 7.1); `null` when there is none at this place or it is cut off. */
export function readPartition(read: Read, at: number, end: number): Partition | null {
  const pack = read(at, Math.max(0, Math.min(KLV_HEAD + PACK_BYTES, end - at)));
  if (!startsWith(pack, MXF_PARTITION_KEY)) return null;
  const length = readLength(pack, KEY_BYTES);
  if (length === null) return null;
  const body = KEY_BYTES + length.header;
  if (pack.length < body + 56) return null;
  const metadata = skipFill(read, at + body + length.length, end);
  const metadataBytes = u64be(pack, body + 32);
  const indexBytes = u64be(pack, body + 40);
  return {
    kind: pack[13] ?? 0,
    status: pack[14] ?? 0,
    at,
    previous: u64be(pack, body + 16),
    footer: u64be(pack, body + 24),
    metadata,
    metadataBytes,
    index: metadata + metadataBytes,
    indexBytes,
    indexId: u32be(pack, body + 48),
    bodyOffset: u64be(pack, body + 52),
    bodyId: u32be(pack, body + 60),
    grid: u32be(pack, body + 4),
    pattern: pack.subarray(body + 64, body + 80),
    end: skipFill(read, metadata + metadataBytes + indexBytes, end),
  };
}

/** First byte behind the fill items that begin at `start`: they count neither as metadata nor as index. */
export function skipFill(read: Read, start: number, end: number): number {
  let at = start;
  for (let item = 0; item < MAX_FILL && at < end; item += 1) {
    const head = read(at, Math.min(KLV_HEAD, end - at));
    const klv = isFill(head, 0) ? klvAt(head, 0) : null;
    if (klv === null) return at;
    at += klv.end;
  }
  return at;
}

export interface PartitionEntry {
  bodyId: number;
  /** Counted from the header partition. */
  at: number;
}

export interface RandomIndex {
  start: number;
  /** Position of the last partition, counted from the header partition. */
  last: number;
  /** All partitions in their order; empty where the pack is too long to be read. */
  entries: readonly PartitionEntry[];
}

/** The list of partitions at the end of the file: the last four bytes state the length of the pack that they end. */
export function findRandomIndex(read: Read, size: number): RandomIndex | null {
  const end = read(Math.max(0, size - END_BYTES), Math.min(size, END_BYTES));
  const length = u32be(end, end.length - 4);
  if (length < KEY_BYTES + 1 + ENTRY_BYTES + 4 || length > size) return null;
  const start = size - length;
  const head = read(start, KLV_HEAD);
  if (!startsWith(head, RANDOM_INDEX_KEY)) return null;
  const value = readLength(head, KEY_BYTES);
  if (value === null || value.header + value.length + KEY_BYTES !== length) return null;
  const entries = (value.length - 4) / ENTRY_BYTES;
  if (!Number.isInteger(entries) || entries < 1 || entries > MAX_PARTITIONS) return null;
  const listed = entries > LISTED_PARTITIONS ? [] : entriesOf(read(size - value.length, entries * ENTRY_BYTES));
  return { start, last: u64be(end, end.length - 4 - 8), entries: listed };
}

function entriesOf(bytes: Uint8Array): PartitionEntry[] {
  const entries: PartitionEntry[] = [];
  for (let at = 0; at + ENTRY_BYTES <= bytes.length; at += ENTRY_BYTES) {
    entries.push({ bodyId: u32be(bytes, at), at: u64be(bytes, at + 4) });
  }
  return entries;
}
