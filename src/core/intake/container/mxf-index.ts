import type { Ratio } from '../../model.ts';
import { exact } from '../frame-rate.ts';
import { type Klv, klvAt } from './mxf-klv.ts';
import type { Layout } from './mxf-layout.ts';
import { type Partition, readPartition } from './mxf-partition.ts';
import { property } from './mxf-registry.ts';
import { type Read, startsWith, u32be, u64be } from './reading.ts';

/** Index table segment, a local set (ST 377-1 clause 11.2). */
const SEGMENT_KEY: readonly number[] = [6, 0x0e, 0x2b, 0x34, 2, 0x53, 1, 1, 0x0d, 1, 2, 1, 1, 0x10, 1, 0];

/** Its start is read; where entries of each edit unit follow, they come last. */
const SEGMENT_HEAD = 2048;

/** An hour at 25 frames a second has some 15 segments of at most 64 KiB. */
const MAX_SEGMENTS = 64;

/** Segments of an index this long are walked through; of a longer one the first is read. */
const WALKED_BYTES = 16_384;

/** Local tags of a segment (ST 377-1 clause 11.2.2). */
const tag = {
  rate: 0x3f0b,
  unitBytes: 0x3f05,
  slices: 0x3f08,
  deltas: 0x3f09,
  entries: 0x3f0a,
  start: 0x3f0c,
  duration: 0x3f0d,
};

const DELTA_BYTES = 6;
const MAX_DELTAS = 256;

export interface IndexFacts {
  /** Edit units a second; `null`: not told. */
  rate: Ratio | null;
  /** Bytes of every edit unit, all elements and their fill; `null`: they are not of one size. */
  unitBytes: number | null;
  /** Where in an edit unit its elements begin, in rising order; empty: not told, or not the same in all. */
  elements: readonly number[];
  /** Edit units up to the end of the last segment; `null`: not told, or not seen. */
  units: number | null;
}

interface Segment {
  rate: Ratio | null;
  unitBytes: number;
  bodyId: number;
  slices: number;
  deltas: number[];
  start: number;
  duration: number;
}

/** What the index says of the essence with this id; `null` where there is none, or it lies where nobody looks. */
export function readIndex(read: Read, layout: Layout, bodyId: number | null, deep: boolean): IndexFacts | null {
  for (const partition of indexPartitions(read, layout)) {
    const walked = deep || partition.indexBytes <= WALKED_BYTES;
    const segments = segmentsOf(read, layout, partition, walked).filter(
      (one) => bodyId === null || one.bodyId === 0 || one.bodyId === bodyId,
    );
    const [first] = segments;
    if (first !== undefined) return factsOf(first, segments, walked && partition === layout.footer);
  }
  return null;
}

/** The footer has what ends the index; constant sizes may stand in front, in the header or a partition of their own. */
function indexPartitions(read: Read, layout: Layout): Partition[] {
  const { header, footer, partitions } = layout;
  const found = [footer, header].filter((one) => one !== null && one.indexBytes > 0) as Partition[];
  if (found.length > 0) return found;
  const next = partitions[1]?.at ?? header.end;
  const second = next < layout.end ? readPartition(read, next, layout.end) : null;
  return second !== null && second.indexBytes > 0 ? [second] : [];
}

function segmentsOf(read: Read, layout: Layout, partition: Partition, walk: boolean): Segment[] {
  const segments: Segment[] = [];
  const end = Math.min(partition.index + partition.indexBytes, layout.end);
  let at = partition.index;
  for (let item = 0; item < MAX_SEGMENTS && at < end; item += 1) {
    const bytes = read(at, Math.min(SEGMENT_HEAD, end - at));
    const klv = klvAt(bytes, 0);
    if (klv === null) break;
    if (startsWith(bytes, SEGMENT_KEY)) {
      segments.push(readSegment(bytes, klv));
      if (!walk) break;
    }
    at += klv.end;
  }
  return segments;
}

function readSegment(bytes: Uint8Array, klv: Klv): Segment {
  const segment: Segment = { rate: null, unitBytes: 0, bodyId: 0, slices: 0, deltas: [], start: 0, duration: 0 };
  const end = Math.min(klv.end, bytes.length);
  let at = klv.value;
  while (at + 4 <= end) {
    const [name, value] = [(bytes[at] ?? 0) * 0x100 + (bytes[at + 1] ?? 0), at + 4];
    const length = (bytes[at + 2] ?? 0) * 0x100 + (bytes[at + 3] ?? 0);
    if (name === tag.entries || value + length > end) break;
    if (name === tag.rate && length === 8) segment.rate = rateAt(bytes, value);
    if (name === tag.unitBytes && length === 4) segment.unitBytes = u32be(bytes, value);
    if (name === property.bodyId && length === 4) segment.bodyId = u32be(bytes, value);
    if (name === tag.slices && length === 1) segment.slices = bytes[value] ?? 0;
    if (name === tag.deltas) segment.deltas = deltasOf(bytes.subarray(value, value + length));
    if (name === tag.start && length === 8) segment.start = u64be(bytes, value);
    if (name === tag.duration && length === 8) segment.duration = u64be(bytes, value);
    at = value + length;
  }
  return segment;
}

function rateAt(bytes: Uint8Array, at: number): Ratio | null {
  const [num, den] = [u32be(bytes, at), u32be(bytes, at + 4)];
  return num > 0 && den > 0 ? exact({ num, den }) : null;
}

/** Delta entries: reordering (1 byte), slice (1) and offset in the slice (4). Empty where an element is in a later slice. */
function deltasOf(list: Uint8Array): number[] {
  const told = u32be(list, 0);
  if (u32be(list, 4) !== DELTA_BYTES || told > MAX_DELTAS || 8 + told * DELTA_BYTES > list.length) return [];
  const offsets: number[] = [];
  for (let at = 8; at < 8 + told * DELTA_BYTES; at += DELTA_BYTES) {
    if (list[at + 1] !== 0) return [];
    offsets.push(u32be(list, at + 2));
  }
  return offsets.sort((one, other) => one - other);
}

function factsOf(first: Segment, segments: readonly Segment[], reachesEnd: boolean): IndexFacts {
  const constant = first.unitBytes > 0 && segments.every((one) => one.unitBytes === first.unitBytes);
  const last = segments.reduce((one, other) => (other.start > one.start ? other : one), first);
  const units = last.start + last.duration;
  return {
    rate: first.rate,
    unitBytes: constant ? first.unitBytes : null,
    elements: constant && first.slices === 0 ? first.deltas : [],
    // A duration of 0 stands for "the whole essence" where all units are of one size (ST 377-1 clause 11.2.3).
    units: reachesEnd && last.duration > 0 && Number.isSafeInteger(units) ? units : null,
  };
}
