import { MAX_PARTS, type Read } from './reading.ts';

/**
 * A box, or another stretch, of a block that was read as a whole: `moov`, `moof` or `meta`. Everything inside is then looked
 * at without another read. `from` and `end` are positions in `view`; nothing is ever taken from behind `end`.
 */
export interface Part {
  type: string;
  view: DataView;
  /** First byte of the content. */
  from: number;
  /** First byte behind it. */
  end: number;
}

/** Where what is damaged, beyond limits or contradictory is told, in words. */
export type Tell = (trouble: string) => void;

/** Reads a stretch of the file as one block. A file that ends before `end` gives a shorter block. */
export function readPart(read: Read, type: string, start: number, end: number): Part {
  const bytes = read(start, end - start);
  return { type, view: new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength), from: 0, end: bytes.length };
}

/**
 * The boxes in a part, from `skip` bytes behind its start on. A box that does not fit ends the list, with a word of it.
 * Fewer than eight bytes, or zeros, at the end are no damage: QuickTime ends a list of user data with four zero bytes.
 */
export function partsOf(parent: Part, tell: Tell, skip = 0): Part[] {
  const { view, end } = parent;
  const parts: Part[] = [];
  let at = parent.from + skip;
  while (at + 8 <= end) {
    if (parts.length >= MAX_PARTS) {
      tell(`more than ${MAX_PARTS} boxes in ${parent.type}: the rest is not looked at`);
      break;
    }
    const stated = view.getUint32(at);
    const name = view.getUint32(at + 4);
    if (stated === 0 && name === 0) break;
    const large = stated === 1 && at + 16 <= end;
    const from = at + (large ? 16 : 8);
    const size = large ? view.getUint32(at + 8) * 0x1_0000_0000 + view.getUint32(at + 12) : stated;
    // ISO/IEC 14496-12 clause 4.2: size 0 reaches to the end. The standard knows it of the file; some writers nest it.
    const next = stated === 0 ? end : at + size;
    if (next < from || next > end) {
      tell(`a box in ${parent.type} does not fit: ${boxName(name)}`);
      break;
    }
    parts.push({ type: charactersOf(name), view, from, end: next });
    at = next;
  }
  return parts;
}

export function find(parts: readonly Part[], type: string): Part | null {
  for (const part of parts) if (part.type === type) return part;
  return null;
}

/** The boxes in the first box of that type; none when it is not there. */
export function inside(parts: readonly Part[], type: string, tell: Tell, skip = 0): Part[] {
  const part = find(parts, type);
  return part === null ? [] : partsOf(part, tell, skip);
}

/** Unsigned integers at an offset in the content; 0 where the box is too short for them. */
export function u8(part: Part, at: number): number {
  return part.from + at + 1 <= part.end ? part.view.getUint8(part.from + at) : 0;
}

export function u16(part: Part, at: number): number {
  return part.from + at + 2 <= part.end ? part.view.getUint16(part.from + at) : 0;
}

export function u32(part: Part, at: number): number {
  return part.from + at + 4 <= part.end ? part.view.getUint32(part.from + at) : 0;
}

/** Rounded above 2^53. */
export function u64(part: Part, at: number): number {
  return u32(part, at) * 0x1_0000_0000 + u32(part, at + 4);
}

export function i32(part: Part, at: number): number {
  return u32(part, at) | 0;
}

export function f64(part: Part, at: number): number {
  return part.from + at + 8 <= part.end ? part.view.getFloat64(part.from + at) : 0;
}

/** Version and flags of a full box (clause 4.2): the version. */
export function version(part: Part): number {
  return u8(part, 0);
}

export function characters(part: Part, at: number): string {
  return charactersOf(u32(part, at));
}

/** The bytes from an offset in the content on, no more than are there. */
export function bytesOf(part: Part, at: number, length = part.end - part.from - at): Uint8Array {
  const start = Math.min(part.from + Math.max(0, at), part.end);
  const room = Math.max(0, Math.min(length, part.end - start));
  return new Uint8Array(part.view.buffer, part.view.byteOffset + start, room);
}

/** How many entries of a table can be there: what it states, and no more than its box has room for. */
export function entriesOf(part: Part, at: number, stated: number, width: number, tell: Tell): number {
  const room = Math.max(0, Math.floor((part.end - part.from - at) / width));
  if (stated <= room) return stated;
  tell(`table ${part.type} states ${stated} entries and has room for ${room}`);
  return room;
}

function charactersOf(name: number): string {
  return String.fromCharCode(name >>> 24, (name >>> 16) & 255, (name >>> 8) & 255, name & 255);
}

function boxName(name: number): string {
  const text = charactersOf(name);
  return /^[\x20-\x7e]{4}$/.test(text) ? text : `0x${name.toString(16).padStart(8, '0')}`;
}
