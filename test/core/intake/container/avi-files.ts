import { ascii, join, le32 } from './media.ts';
import { chunk, le16, le64, list, riff } from './riff-files.ts';

/*
 * Parts of AVI files. Main and stream headers: AVIMAINHEADER and AVISTREAMHEADER of the AVI RIFF File Reference; the rest:
 * OpenDML AVI File Format Extensions 1.02.
 */

export interface Stream {
  type?: string;
  handler?: string;
  scale?: number;
  rate?: number;
  length?: number;
  unitBytes?: number;
}

/** `strh`: type, handler, flags, priority, first frames, scale, rate, start, length, buffer, quality, unit bytes, rectangle. */
export function streamHeader({
  type = 'vids',
  handler = 'MJPG',
  scale = 1,
  rate = 25,
  length = 50,
  unitBytes = 0,
}: Stream): Uint8Array {
  const numbers = [0, 0, 0, scale, rate, 0, length, 0, 0, unitBytes].flatMap(le32);
  return chunk('strh', join(ascii(type), ascii(handler), numbers, new Uint8Array(8)));
}

/** BITMAPINFOHEADER. */
export function bitmap(width: number, height: number, code: string | number = 'MJPG', bits = 24): Uint8Array {
  const compression = typeof code === 'string' ? ascii(code) : le32(code);
  return chunk('strf', join(le32(40), le32(width), le32(height), le16(1), le16(bits), compression, new Uint8Array(20)));
}

/** `vprp`, OpenDML clause 5: aspect of the frame is two 16-bit numbers, the lower one down. */
export function properties(
  aspect: readonly [number, number],
  width: number,
  height: number,
  fields: number,
): Uint8Array {
  const [across, down] = aspect;
  const numbers = [0, 0, 0, 0, 0].flatMap(le32);
  return chunk('vprp', join(numbers, le16(down), le16(across), le32(width), le32(height), le32(fields)));
}

/** `indx` of kind 0 (OpenDML clause 3): where the index of each part is. */
export function superIndex(
  parts: readonly { at: number; length: number; frames: number }[],
  code = '00dc',
): Uint8Array {
  const entries = parts.map(({ at, length, frames }) => join(le64(at), le32(length), le32(frames)));
  return chunk('indx', join(le16(4), [0, 0], le32(parts.length), ascii(code), new Uint8Array(12), ...entries));
}

/** `ix##` of kind 1: offsets from a base, and lengths whose bit 31 says "no key frame". */
export function partIndex(lengths: readonly number[], name = 'ix00'): Uint8Array {
  const entries = lengths.map((length, index) =>
    join(le32(index * 100), le32(index % 2 === 0 ? length : length + 0x8000_0000)),
  );
  return chunk(name, join(le16(2), [0, 1], le32(lengths.length), ascii('00dc'), new Uint8Array(12), ...entries));
}

export function oldIndex(entries: readonly (readonly [string, number])[]): Uint8Array {
  return chunk('idx1', join(...entries.map(([id, length]) => join(ascii(id), le32(16), le32(4), le32(length)))));
}

export interface Avi {
  streams: Uint8Array[][];
  /** Frames of all parts, `dmlh`. */
  total?: number;
  raster?: readonly [number, number];
  movie?: Uint8Array;
  behind?: Uint8Array[];
}

export function avi({
  streams,
  total,
  raster = [320, 180],
  movie = chunk('00dc', [1, 2, 3]),
  behind = [],
}: Avi): Uint8Array {
  const main = chunk('avih', join(new Uint8Array(32), le32(raster[0]), le32(raster[1]), new Uint8Array(16)));
  const extended = total === undefined ? [] : [list('odml', chunk('dmlh', join(le32(total), new Uint8Array(244))))];
  const header = list('hdrl', main, ...streams.map((chunks) => list('strl', ...chunks)), ...extended);
  return riff('AVI ', header, list('movi', movie), ...behind);
}
