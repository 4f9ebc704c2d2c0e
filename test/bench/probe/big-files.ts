import { closeSync, fstatSync, ftruncateSync, openSync, readFileSync, readSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { fixture } from '../../rim/probe/files.ts';
import { ffmpeg } from './clips.ts';

/*
 * Files as large as takes are: real encodes whose structure stays as the writer made it, with a hole where more essence
 * would be. Nobody who looks at the structure alone sees the hole.
 */

export interface BigFile {
  name: string;
  path: string;
  /** Bytes that a reader of the structure cannot do without: the index, or the header metadata. */
  header: number;
  /** Movie fragments: each has an index of its own in front of its media, so each costs a read of at least a page. */
  fragments: number;
}

const GB = 1_000_000_000;

export function bigFiles(folder: string): BigFile[] {
  const to = (name: string) => join(folder, name);
  const [movie, long, fragments, mxf] = ['A900.mov', 'S900.MP4', 'F900.mp4', 'X900.MXF'].map(to) as [
    string,
    string,
    string,
    string,
  ];
  repeat('A004C002_270211.mov', 500, [movie]);
  repeat('S003_0042.MP4', 1800, [long]);
  repeat('S003_0042.MP4', 600, ['-movflags', 'frag_keyframe+empty_moov+default_base_moof', fragments]);
  repeat('C0001.MXF', 120, [mxf]);
  return [
    { name: 'ProRes MOV, index last', path: movie, header: stretchMovie(movie, 9 * GB), fragments: 0 },
    { name: 'H.264 MP4 of half an hour, index last', path: long, header: stretchMovie(long, 9 * GB), fragments: 0 },
    { name: 'fragmented MP4', path: fragments, ...stretchFragments(fragments, 4 * GB) },
    { name: 'long-GOP MXF', path: mxf, header: stretchMxf(mxf, 4 * GB), fragments: 0 },
  ];
}

/** A committed clip so many times in a row, copied and not encoded again. */
function repeat(name: string, times: number, target: readonly string[]): void {
  ffmpeg([
    '-stream_loop',
    String(times - 1),
    '-i',
    fixture(name),
    '-map',
    '0:v',
    '-map',
    '0:a?',
    '-c',
    'copy',
    ...target,
  ]);
}

interface Box {
  type: string;
  start: number;
  end: number;
}

function boxesOf(path: string): Box[] {
  const fd = openSync(path, 'r');
  const boxes: Box[] = [];
  const header = Buffer.alloc(16);
  try {
    const { size } = fstatSync(fd);
    for (let start = 0; start < size; ) {
      readSync(fd, header, 0, 16, start);
      const short = header.readUInt32BE(0);
      const end = start + (short === 1 ? Number(header.readBigUInt64BE(8)) : short);
      boxes.push({ type: header.toString('latin1', 4, 8), start, end });
      if (end <= start) throw new Error(`a box of no length at ${start} of ${path}`);
      start = end;
    }
    return boxes;
  } finally {
    closeSync(fd);
  }
}

/** Makes room between these bytes and those behind; all that pointed behind is for the caller to put right. */
function widen(path: string, at: number, by: number): void {
  const behind = readFileSync(path).subarray(at);
  const fd = openSync(path, 'r+');
  ftruncateSync(fd, at);
  ftruncateSync(fd, at + by);
  writeSync(fd, behind, 0, behind.length, at + by);
  closeSync(fd);
}

function patch(path: string, at: number, bytes: Uint8Array): void {
  const fd = openSync(path, 'r+');
  writeSync(fd, bytes, 0, bytes.length, at);
  closeSync(fd);
}

/** A box header with its size in 64 bits (ISO/IEC 14496-12, 4.2). */
function longHeader(type: string, size: number): Buffer {
  const header = Buffer.alloc(16);
  header.writeUInt32BE(1, 0);
  header.write(type, 4, 'latin1');
  header.writeBigUInt64BE(BigInt(size), 8);
  return header;
}

/**
 * Widens the media data in front of the index. Its header grows into the empty box of eight bytes that writers leave in
 * front of it for that. @returns the length of the index
 */
function stretchMovie(path: string, by: number): number {
  const boxes = boxesOf(path);
  const data = boxes.findIndex(({ type }) => type === 'mdat');
  const [spare, mdat, moov] = [boxes[data - 1], boxes[data], boxes[data + 1]];
  if (mdat === undefined || moov?.type !== 'moov' || spare === undefined || spare.end - spare.start !== 8) {
    throw new Error(`the boxes of ${path} are not as expected: ${boxes.map(({ type }) => type).join(' ')}`);
  }
  widen(path, mdat.end, by);
  patch(path, spare.start, longHeader('mdat', mdat.end + by - spare.start));
  return moov.end - moov.start;
}

/** The least that a drive gives. */
const PAGE_BYTES = 4096;

/** A free box of that length between the last fragment and the table of fragments. */
function stretchFragments(path: string, by: number): Pick<BigFile, 'header' | 'fragments'> {
  const boxes = boxesOf(path);
  const [moov, table] = [boxes.find(({ type }) => type === 'moov'), boxes.at(-1)];
  if (moov === undefined || table?.type !== 'mfra') throw new Error(`${path} has no table of fragments`);
  const fragments = boxes.filter(({ type }) => type === 'moof');
  if (fragments.some(({ start, end }) => end - start > PAGE_BYTES)) throw new Error('a fragment has a long index');
  widen(path, table.start, by);
  patch(path, table.start, longHeader('free', by));
  const header = moov.end - moov.start + (table.end - table.start) + fragments.length * PAGE_BYTES;
  return { header, fragments: fragments.length };
}

/** SMPTE ST 377-1: partition packs (6.1), the fill item (6.3.3), the random index pack (12). */
const FILL = Buffer.from('060e2b34010101020301021001000000', 'hex');
const PARTITION = Buffer.from('060e2b34020501010d01020101', 'hex');

/** A fill item of that length in front of the footer partition. @returns header metadata, footer and random index pack */
function stretchMxf(path: string, by: number): number {
  const file = readFileSync(path);
  const rip = file.length - file.readUInt32BE(file.length - 4);
  const value = rip + 16 + lengthBytes(file, rip + 16);
  const starts: number[] = [];
  for (let entry = value; entry < file.length - 4; entry += 12) starts.push(Number(file.readBigUInt64BE(entry + 4)));
  const footer = starts.at(-1) ?? 0;
  if (starts.some((start) => file.compare(PARTITION, 0, 13, start, start + 13) !== 0)) {
    throw new Error(`the random index pack of ${path} names what is no partition`);
  }
  widen(path, footer, by);
  const header = Buffer.concat([FILL, Buffer.of(0x88), Buffer.alloc(8)]);
  header.writeBigUInt64BE(BigInt(by - header.length), 17);
  patch(path, footer, header);
  const moved = Buffer.alloc(8);
  moved.writeBigUInt64BE(BigInt(footer + by));
  for (const start of starts) {
    const pack = start + 16 + lengthBytes(file, start + 16);
    const here = start === footer ? pack + by : pack;
    // Major and minor version, KAG size; then this, the previous and the footer partition.
    if (start === footer) patch(path, here + 8, moved);
    patch(path, here + 24, moved);
  }
  patch(path, file.length + by - 4 - 8, moved);
  const first = 16 + lengthBytes(file, 16);
  return Number(file.readBigUInt64BE(first + 32)) + (file.length - footer);
}

/** Bytes that a BER length takes. */
function lengthBytes(file: Buffer, at: number): number {
  const first = file[at] ?? 0;
  return first < 0x80 ? 1 : 1 + (first & 0x7f);
}
