import { deflateSync } from 'node:zlib';
import { bytesOf } from './files.ts';

/*
 * Files that have frozen, filled or misled media readers. Boxes: ISO/IEC 14496-12, clause 4.2; compressed movie headers:
 * QuickTime File Format, "Compressed Movie Resources".
 */

export interface HostileFile {
  name: string;
  /** Made when it is asked for: some are large. */
  bytes(): Buffer;
}

/** Nothing in here may stop the next file from being read. */
export const hostileFiles: readonly HostileFile[] = [
  { name: 'zeros.mov', bytes: () => Buffer.alloc(64_000_000) },
  { name: 'random.mxf', bytes: () => random(8_000_000) },
  { name: 'first-byte.mp4', bytes: () => firstByteWrong(20_000_000) },
  { name: 'cut.avi', bytes: () => bytesOf('tape07_scene13.avi').subarray(0, 1700) },
  { name: 'tracks.mov', bytes: () => manyTracks(5000) },
  { name: 'compressed.mov', bytes: () => compressedIndex(200_000_000) },
  { name: 'box-sizes.mov', bytes: hugeBoxes },
  { name: 'table.mov', bytes: hugeTable },
  { name: 'nested.mov', bytes: () => nested(3000) },
  { name: 'repeated.mp4', bytes: () => repeated(100) },
];

/** A box of this type with this content. */
export function box(type: string, ...content: readonly Uint8Array[]): Buffer {
  const header = Buffer.alloc(8);
  header.writeUInt32BE(8 + content.reduce((sum, part) => sum + part.length, 0));
  header.write(type, 4, 'latin1');
  return Buffer.concat([header, ...content]);
}

/** A linear congruential generator (the constants are those of Numerical Recipes, from memory): the same bytes each time. */
export function random(length: number): Buffer {
  const bytes = Buffer.alloc(length);
  let state = 1;
  for (let i = 0; i < length; i++) {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    bytes[i] = state >>> 24;
  }
  return bytes;
}

/** An MP4 whose first box claims to be 2 GB long, with so many zeros behind. */
export function firstByteWrong(zeros: number): Buffer {
  const clip = bytesOf('S003_0042.MP4');
  clip[0] = 0x7f;
  return Buffer.concat([clip, Buffer.alloc(zeros)]);
}

/** The same fault, many times over. */
export function repeated(times: number): Buffer {
  const clip = bytesOf('S003_0042.MP4');
  clip[0] = 0x7f;
  return Buffer.concat(Array.from({ length: times }, () => clip));
}

/** A good clip whose index holds its first track so many times. */
export function manyTracks(times: number): Buffer {
  const clip = bytesOf('capture_0001.mov');
  const moov = find(clip, 0, clip.length, 'moov');
  const trak = find(clip, moov.start + 8, moov.end, 'trak');
  const track = clip.subarray(trak.start, trak.end);
  const before = clip.subarray(moov.start + 8, trak.start);
  return Buffer.concat([
    clip.subarray(0, moov.start),
    box('moov', before, ...Array.from({ length: times }, () => track), clip.subarray(trak.end, moov.end)),
  ]);
}

/** A good clip whose table of sample sizes is so many entries longer, and that ends in the midst of a box. */
export function longIndex(entries: number): Buffer {
  const clip = bytesOf('S003_0042.MP4');
  let [from, end] = [0, clip.length];
  for (const type of ['moov', 'trak', 'mdia', 'minf', 'stbl', 'stsz']) {
    const found = find(clip, from, end, type);
    clip.writeUInt32BE(found.end - found.start + entries * 4, found.start);
    [from, end] = [found.start + 8, found.end];
  }
  clip.writeUInt32BE(clip.readUInt32BE(from + 8) + entries, from + 8);
  return Buffer.concat([clip.subarray(0, end), Buffer.alloc(entries * 4, 1), clip.subarray(end), Buffer.alloc(3, 1)]);
}

/** A compressed index that is so many zeros when it is unpacked. */
function compressedIndex(length: number): Buffer {
  const size = Buffer.alloc(4);
  size.writeUInt32BE(length);
  const packed = box('cmvd', size, deflateSync(Buffer.alloc(length)));
  return Buffer.concat([
    box('ftyp', Buffer.from('qt  \0\0\0\0qt  ', 'latin1')),
    box('moov', box('cmov', box('dcom', Buffer.from('zlib')), packed)),
    box('mdat', Buffer.alloc(100_000)),
  ]);
}

/** Boxes inside the index that claim to be larger than any file. */
export function hugeBoxes(): Buffer {
  const clip = bytesOf('A004C002_270211.mov');
  for (const type of ['moov', 'trak', 'stbl', 'stsz']) clip.writeUInt32BE(0xffff_fff0, clip.indexOf(type) - 4);
  return clip;
}

/** A table of sample sizes that claims four thousand million entries, each of its own size. */
function hugeTable(): Buffer {
  const clip = bytesOf('A004C002_270211.mov');
  const table = clip.indexOf('stsz');
  clip.writeUInt32BE(0, table + 8);
  clip.writeUInt32BE(0xffff_ffff, table + 12);
  return clip;
}

/** Boxes in boxes, so deep. */
function nested(depth: number): Buffer {
  const inner = Buffer.alloc(depth * 8);
  for (let level = 0; level < depth; level++) {
    inner.writeUInt32BE((depth - level) * 8, level * 8);
    inner.write(level === 0 ? 'moov' : 'trak', level * 8 + 4, 'latin1');
  }
  return Buffer.concat([box('ftyp', Buffer.from('qt  \0\0\0\0qt  ', 'latin1')), inner]);
}

function find(bytes: Buffer, from: number, to: number, type: string): { start: number; end: number } {
  for (let start = from; start + 8 <= to; ) {
    const end = start + bytes.readUInt32BE(start);
    if (bytes.toString('latin1', start + 4, start + 8) === type) return { start, end };
    if (end <= start) break;
    start = end;
  }
  throw new Error(`there is no ${type} box in the clip`);
}

/** A good sound file with so many bytes of sound more. */
export function longSound(more: number): Buffer {
  const clip = bytesOf('SM12-T003.WAV');
  const data = clip.indexOf('data');
  const length = clip.readUInt32LE(data + 4);
  const sound = clip.subarray(data + 8, data + 8 + length);
  const longer = Buffer.concat([clip.subarray(0, data + 8), sound, Buffer.alloc(more - (more % length), sound)]);
  longer.writeUInt32LE(longer.length - 8, 4);
  longer.writeUInt32LE(longer.length - data - 8, data + 4);
  return longer;
}
