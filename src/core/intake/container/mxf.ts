import { cannotTell, cut, type Finding, unwritten, WHOLE } from './finding.ts';
import { count, endsInZeros, type Read, startsWith, u32be, u64be } from './reading.ts';
import { headerPartitionAt, MXF_PARTITION_KEY } from './sniff.ts';

/** Random index pack key, SMPTE ST 377-1 clause 12. */
const RANDOM_INDEX_KEY: readonly number[] = [6, 0x0e, 0x2b, 0x34, 2, 5, 1, 1, 0x0d, 1, 2, 1, 1, 0x11, 1, 0];

const FILL_KEY_START: readonly number[] = [6, 0x0e, 0x2b, 0x34, 1, 1, 1];
const FILL_KEY_REST: readonly number[] = [3, 1, 2, 0x10, 1, 0, 0, 0];
const MAX_FILL = 16;

const KEY_BYTES = 16;
const FOOTER = 4;
/** Body stream id (4 bytes) and position of its partition (8 bytes). */
const RANDOM_INDEX_ENTRY = 12;
/** Far more partitions than a real file has: one pack of this many entries has 12 MB. */
const MAX_PARTITIONS = 1_000_000;

interface Partition {
  /** 2 header, 3 body, 4 footer. */
  kind: number;
  /** 1 open and incomplete, 2 closed and incomplete, 3 open and complete, 4 closed and complete. */
  status: number;
  /** Where the footer partition begins, counted from the header partition; 0: not known when this was written. */
  footer: number;
  /** First byte behind the partition's pack, metadata and index. */
  end: number;
}

/**
 * MXF (SMPTE ST 377-1). Whole: the file ends in a random index pack whose last entry leads to a footer partition that
 * fits in front of it. A writer makes both when it is through, and any cut at the end removes or breaks the pack.
 *
 * The pack is optional: with a complete footer and no pack behind it the answer is "cannot tell", since a cut exactly
 * between the two looks the same.
 */
export function mxfWholeness(read: Read, size: number): Finding {
  const runIn = headerPartitionAt(read(0, 512)) ?? headerPartitionAt(read(0, 65_536 + KEY_BYTES));
  if (runIn === null) return cut('the header partition is cut off');
  const header = readPartition(read, runIn, size);
  if (header === null) return cut('the header partition is cut off');
  const pack = findRandomIndex(read, size);
  if (pack !== null) return judgeRandomIndex(read, pack, runIn);
  if (header.footer > 0) return judgeFooter(read, runIn + header.footer, size);
  if (endsInZeros(read, 0, size)) return unwritten('room was reserved, but the file ends in zeros');
  if (header.status === 1 || header.status === 3) {
    return cut('the header partition is still open and no footer follows: still recording, or broken off');
  }
  return cannotTell('the file names no footer partition and has no random index pack');
}

interface RandomIndex {
  start: number;
  /** Position of the last partition, counted from the header partition. */
  last: number;
}

/** The last four bytes state the length of the pack that they end. */
function findRandomIndex(read: Read, size: number): RandomIndex | null {
  const length = u32be(read(Math.max(0, size - 4), 4), 0);
  if (length < KEY_BYTES + 1 + RANDOM_INDEX_ENTRY + 4 || length > size) return null;
  const start = size - length;
  const head = read(start, KEY_BYTES + 9);
  if (!startsWith(head, RANDOM_INDEX_KEY)) return null;
  const value = readLength(head, KEY_BYTES);
  if (value === null || value.header + value.length + KEY_BYTES !== length) return null;
  const entries = (value.length - 4) / RANDOM_INDEX_ENTRY;
  if (!Number.isInteger(entries) || entries < 1 || entries > MAX_PARTITIONS) return null;
  return { start, last: u64be(read(size - 4 - 8, 8), 0) };
}

function judgeRandomIndex(read: Read, pack: RandomIndex, runIn: number): Finding {
  const at = runIn + pack.last;
  const footer = at < pack.start ? readPartition(read, at, pack.start) : null;
  if (footer === null) return cut(`the random index pack names a partition at byte ${count(at)}, and there is none`);
  if (footer.kind !== FOOTER) return cannotTell('the last partition is no footer');
  if (footer.end > pack.start) return cut('the footer partition does not fit in front of the random index pack');
  return WHOLE;
}

function judgeFooter(read: Read, at: number, size: number): Finding {
  if (at >= size) {
    return endsInZeros(read, 0, size)
      ? unwritten(`it ends in zeros where its last part belongs, from byte ${count(at)} on`)
      : cut(`${count(size)} of more than ${count(at)} bytes are there`);
  }
  const footer = readPartition(read, at, size);
  if (footer === null) {
    return endsInZeros(read, at, size)
      ? unwritten(`there are zeros where the footer belongs, at byte ${count(at)}`)
      : cut(`the footer at byte ${count(at)} is cut off or damaged`);
  }
  if (footer.end > size) return cut(`${count(size)} of at least ${count(footer.end)} bytes are there`);
  if (footer.end < size) return cut('what follows the footer is no complete random index pack');
  return cannotTell('the footer is there, but no random index pack behind it');
}

/** Reads one partition pack (ST 377-1 clause 7.1); `null` when there is none at this place or it is cut off. */
function readPartition(read: Read, at: number, end: number): Partition | null {
  const pack = read(at, Math.max(0, Math.min(KEY_BYTES + 9 + 88, end - at)));
  if (!startsWith(pack, MXF_PARTITION_KEY)) return null;
  const value = readLength(pack, KEY_BYTES);
  if (value === null) return null;
  const body = KEY_BYTES + value.header;
  if (pack.length < body + 56) return null;
  const metadata = u64be(pack, body + 32) + u64be(pack, body + 40);
  return {
    kind: pack[13] ?? 0,
    status: pack[14] ?? 0,
    footer: u64be(pack, body + 24),
    end: skipFill(read, skipFill(read, at + body + value.length, end) + metadata, end),
  };
}

/** Fill items (ST 377-1 clause 6.3.3) pad to a grid and count neither as metadata nor as index. */
function skipFill(read: Read, start: number, end: number): number {
  let at = start;
  for (let item = 0; item < MAX_FILL && at < end; item += 1) {
    const head = read(at, Math.min(KEY_BYTES + 9, end - at));
    // Byte 8 is the version of the registry: writers use 1 and 2.
    const isFill = startsWith(head, FILL_KEY_START) && startsWith(head, FILL_KEY_REST, 8);
    const value = isFill ? readLength(head, KEY_BYTES) : null;
    if (value === null) return at;
    at += KEY_BYTES + value.header + value.length;
  }
  return at;
}

/** A BER length (SMPTE ST 336): one byte, or 0x80 + n and n bytes. `header` counts the bytes it takes itself. */
function readLength(bytes: Uint8Array, at: number): { length: number; header: number } | null {
  const first = bytes[at];
  if (first === undefined) return null;
  if (first < 0x80) return { length: first, header: 1 };
  const more = first - 0x80;
  if (more === 0 || more > 8 || at + more >= bytes.length) return null;
  let length = 0;
  for (let index = 1; index <= more; index += 1) length = length * 0x100 + (bytes[at + index] ?? 0);
  return { length, header: 1 + more };
}
