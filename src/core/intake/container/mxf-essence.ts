import { KEY_BYTES, KLV_HEAD, type Klv, klvAt } from './mxf-klv.ts';
import type { Layout } from './mxf-layout.ts';
import { readPartition, skipFill } from './mxf-partition.ts';
import { type Read, startsWith, u32be } from './reading.ts';

/** Generic container essence elements (SMPTE ST 379-1): then item type, count, element type, element number. */
const ELEMENT_KEY: readonly number[] = [6, 0x0e, 0x2b, 0x34, 1, 2, 1];
const ELEMENT_KEY_REST: readonly number[] = [0x0d, 1, 3, 1];

/** Items in front of the picture in an edit unit: system items and fill. */
const MAX_ITEMS = 8;

/** Behind the last element there is fill up to the grid: of this size at most. */
const MAX_CLOSING_FILL = 1_048_576;

/** Where the essence of one id lies. Several partitions may hold it. */
export interface Room {
  /** First byte of essence. */
  start: number;
  /** First byte behind the last of it; `null`: not known, the file has no end. */
  end: number | null;
  /** Whether it is all in one piece; `null`: not known. */
  single: boolean | null;
}

/** Finds the room by the list of partitions, else right behind the header, where a writer puts it. */
export function roomOf(read: Read, layout: Layout, bodyId: number): Room | null {
  const { header, partitions } = layout;
  if (partitions.length > 0) {
    const holds = ({ bodyId: id }: { bodyId: number }) => id === bodyId;
    const first = partitions.findIndex(holds);
    const start = first < 0 ? null : essenceStart(read, layout, partitions[first]?.at ?? 0, bodyId);
    if (start === null) return null;
    const last = partitions.findLastIndex(holds);
    return { start, end: partitions[last + 1]?.at ?? layout.end, single: first === last };
  }
  const start = header.bodyId === bodyId ? header.end : essenceStart(read, layout, header.end, bodyId);
  if (start === null) return null;
  const { footer } = layout;
  if (footer === null) return { start, end: null, single: null };
  const previous = layout.runIn + footer.previous;
  return { start, end: footer.at, single: previous <= start && previous >= header.at };
}

function essenceStart(read: Read, layout: Layout, at: number, bodyId: number): number | null {
  if (at === layout.header.at) return layout.header.bodyId === bodyId ? layout.header.end : null;
  const partition = readPartition(read, at, layout.end);
  return partition?.bodyId === bodyId ? partition.end : null;
}

/** Item types of ST 379-1: 05 and 15 picture, 06 and 16 sound, 18 both in one (DV). */
const ITEM_TYPES = { picture: new Set([0x05, 0x15, 0x18]), sound: new Set([0x06, 0x16]) };

export type Kind = keyof typeof ITEM_TYPES;

/** The first element of a track in the edit unit at `start`. */
function findElement(read: Read, start: number, end: number, kind: Kind, trackNumber: number): Klv | null {
  let at = start;
  for (let item = 0; item < MAX_ITEMS && at < end; item += 1) {
    const klv = itemAt(read, at, end);
    if (klv === null) return null;
    if (isElement(read, klv, kind, trackNumber)) return klv;
    at = klv.end;
  }
  return null;
}

function itemAt(read: Read, at: number, end: number): Klv | null {
  const klv = klvAt(read(at, Math.min(KLV_HEAD, end - at)), 0);
  return klv === null ? null : { at, value: at + klv.value, end: at + klv.end };
}

/** The last four bytes of an element's key are its track's number, where that was given one. */
function isElement(read: Read, { at }: Klv, kind: Kind, trackNumber: number): boolean {
  const key = read(at, KEY_BYTES);
  if (!startsWith(key, ELEMENT_KEY) || !startsWith(key, ELEMENT_KEY_REST, 8)) return false;
  return ITEM_TYPES[kind].has(key[12] ?? 0) && (trackNumber === 0 || u32be(key, 12) === trackNumber);
}

/** Bytes of the value of a track's element, where it alone is the whole essence: one for the whole take ("clip wrapping"). */
export function wholeElement(read: Read, room: Room, kind: Kind, trackNumber: number): number | null {
  if (room.end === null || room.single !== true) return null;
  const start = skipFill(read, room.start, room.end);
  const element = itemAt(read, start, room.end);
  if (element === null || !isElement(read, element, kind, trackNumber)) return null;
  const rest = room.end - element.end;
  if (rest < 0 || rest > MAX_CLOSING_FILL || skipFill(read, element.end, room.end) !== room.end) return null;
  return element.end - element.value;
}

/** Edit units that an index says are all of one size. */
export interface ConstantUnits {
  count: number;
  bytes: number;
  /** Where in a unit its elements begin, in rising order. */
  elements: readonly number[];
  /** What elements are padded to. */
  grid: number;
}

/**
 * Bytes of the value of a picture's element where every edit unit is of one size: the first and the last unit are looked
 * at. The element must fill its place up to the grid, so that it has the constant size and not its place alone.
 */
export function constantElement(read: Read, room: Room, units: ConstantUnits, trackNumber: number): number | null {
  const { count, bytes, elements, grid } = units;
  if (room.end === null || count < 1) return null;
  const first = findElement(read, room.start, room.start + bytes, 'picture', trackNumber);
  if (first === null) return null;
  const offset = first.at - room.start;
  const length = first.end - first.at;
  const place = (elements.find((at) => at > offset) ?? bytes) - offset;
  if (!isSnug(place - length, grid)) return null;
  const lastUnit = room.single === true ? room.start + (count - 1) * bytes : room.end - bytes;
  const last = itemAt(read, lastUnit + offset, room.end);
  const isSame = last !== null && isElement(read, last, 'picture', trackNumber) && last.end - last.at === length;
  return isSame ? first.end - first.value : null;
}

/** Whether a rest is no more than what pads to the grid: a fill item takes at least its key and a length. */
function isSnug(rest: number, grid: number): boolean {
  return rest === 0 || (grid > 1 && rest < grid + KLV_HEAD && rest > KLV_HEAD - 9);
}
