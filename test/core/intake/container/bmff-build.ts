import { bmffStructure } from '../../../../src/core/intake/container/bmff-structure.ts';
import type { Structure } from '../../../../src/core/intake/container/structure.ts';

/*
 * Builds QuickTime and MP4 files box by box (ISO/IEC 14496-12, QuickTime File Format) and finds boxes in real ones, so that
 * a test can say what is in a file, or change one field of it.
 */

/** Text is four-character codes and the like, a number is 32 bits. */
type Piece = Uint8Array | readonly number[] | string | number;

export function bytes(...pieces: readonly Piece[]): Uint8Array {
  const parts = pieces.map((piece) => {
    if (typeof piece === 'number') return new Uint8Array([piece >>> 24, piece >>> 16, piece >>> 8, piece]);
    return typeof piece === 'string' ? Uint8Array.from(piece, (one) => one.charCodeAt(0)) : Uint8Array.from(piece);
  });
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

export function atom(type: string, ...content: readonly Piece[]): Uint8Array {
  const body = bytes(...content);
  return bytes(body.length + 8, type, body);
}

export function be16(value: number): number[] {
  return [(value >> 8) & 255, value & 255];
}

export function be64(value: number): Uint8Array {
  return bytes(Math.floor(value / 0x1_0000_0000), value % 0x1_0000_0000);
}

export function f64(value: number): Uint8Array {
  const view = new DataView(new ArrayBuffer(8));
  view.setFloat64(0, value);
  return new Uint8Array(view.buffer);
}

const zeros = (length: number) => new Uint8Array(length);
const one = 0x1_0000;

/** Clockwise turns as writers state them: rows of a, b, u, c, d, v, x, y, w. */
export const MATRICES = {
  0: [one, 0, 0, 0, one, 0, 0, 0, 0x4000_0000],
  90: [0, one, 0, -one, 0, 0, 0, 0, 0x4000_0000],
  180: [-one, 0, 0, 0, -one, 0, 0, 0, 0x4000_0000],
  270: [0, -one, 0, one, 0, 0, 0, 0, 0x4000_0000],
} as const;

interface TrackSpec {
  id?: number;
  handler?: string;
  timescale?: number;
  /** Length in the media header; by default that of `times`. */
  ticks?: number;
  /** A sample description. */
  entry?: Uint8Array;
  /** Runs of samples: count and length. */
  times?: readonly (readonly [number, number])[];
  /** Sample sizes, or a count of samples of one size. */
  sizes?: readonly number[] | { count: number; each: number };
  /** Chunk offset; by default 0. */
  offset?: number;
  matrix?: readonly number[];
  /** Width and height in the track header. */
  shown?: readonly [number, number];
  /** Segment length in movie ticks, and media time. */
  edits?: readonly (readonly [number, number])[];
  timecodes?: readonly number[];
  /** Its data lie in another file. */
  outside?: boolean;
  /** In place of the tables of times, sizes and chunks. */
  tables?: readonly Uint8Array[];
}

export function track(spec: TrackSpec = {}): Uint8Array {
  const { id = 1, handler = 'vide', timescale = 25, matrix = MATRICES[0], shown = [0, 0], times = [[1, 1]] } = spec;
  const count = times.reduce((sum, [run]) => sum + run, 0);
  const sizes = spec.sizes ?? { count, each: 10 };
  const ticks = spec.ticks ?? times.reduce((sum, [run, delta]) => sum + run * delta, 0);
  const header = atom('tkhd', 7, 0, 0, id, 0, ticks, zeros(16), bytes(...matrix), shown[0] * one, shown[1] * one);
  const sizeTable =
    'count' in sizes ? atom('stsz', 0, sizes.each, sizes.count) : atom('stsz', 0, 0, sizes.length, bytes(...sizes));
  const tables = spec.tables ?? [
    atom('stts', 0, times.length, bytes(...times.flat())),
    sizeTable,
    atom('stsc', 0, 1, 1, count, 1),
    atom('stco', 0, 1, spec.offset ?? 0),
  ];
  const edits = spec.edits === undefined ? [] : [editBox(spec.edits)];
  const named = spec.timecodes === undefined ? [] : [atom('tref', atom('tmcd', bytes(...spec.timecodes)))];
  return atom(
    'trak',
    header,
    ...edits,
    ...named,
    atom(
      'mdia',
      atom('mdhd', 0, 0, 0, timescale, ticks, 0),
      atom('hdlr', 0, 'mhlr', handler, zeros(13)),
      atom(
        'minf',
        atom('dinf', atom('dref', 0, 1, atom('url ', spec.outside === true ? 0 : 1))),
        atom('stbl', atom('stsd', 0, 1, spec.entry ?? pictureEntry()), ...tables),
      ),
    ),
  );
}

function editBox(edits: readonly (readonly [number, number])[]): Uint8Array {
  return atom('edts', atom('elst', 0, edits.length, bytes(...edits.flatMap(([length, time]) => [length, time, one]))));
}

export function pictureEntry(type = 'apch', width = 1920, height = 1080, ...boxes: Uint8Array[]): Uint8Array {
  return atom(type, zeros(6), be16(1), zeros(16), be16(width), be16(height), zeros(50), ...boxes);
}

/** Sound description of version 0; `more` follows the fixed fields. */
export function soundEntry(
  type: string,
  channels: number,
  bits: number,
  rate: number,
  ...more: Uint8Array[]
): Uint8Array {
  return atom(type, zeros(6), be16(1), zeros(8), be16(channels), be16(bits), 0, (rate * one) % 2 ** 32, ...more);
}

export function timecodeEntry(
  flags: number,
  timescale: number,
  duration: number,
  frames: number,
  ...more: Uint8Array[]
) {
  return atom('tmcd', zeros(6), be16(1), 0, flags, timescale, duration, [frames, 0], ...more);
}

/** An international text in a box, by default with the language code of English. */
export function namedText(type: string, text: string | Uint8Array, language = 0): Uint8Array {
  const body = typeof text === 'string' ? new TextEncoder().encode(text) : text;
  return atom(type, be16(body.length), be16(language), body);
}

/** `meta` of keys and values, in the QuickTime or the ISO form of the box. */
export function keyed(entries: Readonly<Record<string, string>>, form: 'quicktime' | 'iso' = 'quicktime'): Uint8Array {
  const names = Object.keys(entries);
  return atom(
    'meta',
    form === 'iso' ? [0, 0, 0, 0] : [],
    atom('hdlr', 0, 0, 'mdta', zeros(13)),
    atom('keys', 0, names.length, ...names.map((name) => atom('mdta', name))),
    atom(
      'ilst',
      ...Object.values(entries).map((value, index) =>
        bytes(value.length + 24, index + 1, atom('data', 1, 0, new TextEncoder().encode(value))),
      ),
    ),
  );
}

interface MovieSpec {
  brand?: string | null;
  created?: number;
  matrix?: readonly number[];
  timescale?: number;
  /** The media data; they begin at byte `DATA_AT`. */
  data?: Uint8Array;
}

/** Where the media data of a built movie begin. */
export const DATA_AT = 24;

/** A file: brand, media data, index with these boxes behind the movie header. */
export function movie(boxes: readonly Uint8Array[], spec: MovieSpec = {}): Uint8Array {
  const { brand = 'qt  ', created = 0, matrix = MATRICES[0], timescale = 1000, data = zeros(100_000) } = spec;
  const start = brand === null ? atom('wide', 'wide', 'wide') : atom('ftyp', brand, 0);
  const header = atom('mvhd', 0, created, 0, timescale, 0, one, zeros(12), bytes(...matrix), zeros(28));
  return bytes(start, atom('mdat', data), atom('moov', header, ...boxes));
}

/** Reads bytes as a file. A read outside of it is a failure. */
export function structureOf(file: Uint8Array): Structure {
  return bmffStructure(strictRead(file), file.length);
}

function strictRead(file: Uint8Array): (position: number, length: number) => Uint8Array {
  return (position, length) => {
    if (!Number.isInteger(position) || !Number.isInteger(length) || position < 0) throw new RangeError('no such read');
    return file.subarray(position, position + length);
  };
}

/** Content of a box in a real file, by its path: `moov/trak/mdia/mdhd`; the n-th such path, from 0 on. */
export function locate(file: Uint8Array, path: string, nth = 0): { start: number; content: number; end: number } {
  const found: { start: number; content: number; end: number }[] = [];
  const view = new DataView(file.buffer, file.byteOffset, file.byteLength);
  const walk = (from: number, end: number, [type, ...rest]: readonly string[]): void => {
    for (let at = from; at + 8 <= end; at += Math.max(8, view.getUint32(at))) {
      if (String.fromCharCode(...file.subarray(at + 4, at + 8)) !== type) continue;
      const box = { start: at, content: at + 8, end: at + view.getUint32(at) };
      if (rest.length === 0) found.push(box);
      else walk(box.content + (type === 'stsd' ? 8 : 0), box.end, rest);
    }
  };
  walk(0, file.length, path.split('/'));
  const box = found[nth];
  if (box === undefined) throw new Error(`there is no ${path} number ${nth}`);
  return box;
}

/** A copy with 32-bit numbers put at places. */
export function patched(file: Uint8Array, ...changes: readonly (readonly [at: number, value: number])[]): Uint8Array {
  const copy = Uint8Array.from(file);
  const view = new DataView(copy.buffer);
  for (const [at, value] of changes) view.setUint32(at, value);
  return copy;
}
