import { spawnSync } from 'node:child_process';
import { mxfWholeness } from '../../../../src/core/intake/container/mxf.ts';
import { mxfStructure } from '../../../../src/core/intake/container/mxf-structure.ts';
import { blockReader } from '../../../../src/core/intake/container/source.ts';
import type {
  PictureTrack,
  SoundTrack,
  StartTimecode,
  Structure,
} from '../../../../src/core/intake/container/structure.ts';
import { formatTimecode, fromFrameNumber } from '../../../../src/core/intake/timecode.ts';

export interface Looked {
  structure: Structure;
  reads: number;
  bytes: number;
}

/** Wholeness and structure through one reader, as they are asked for; a read outside of the file is a failure. */
export function lookAt(size: number, read: (position: number, length: number) => Uint8Array): Looked {
  let [reads, bytes] = [0, 0];
  const counting = blockReader((position, length) => {
    const inside = Number.isSafeInteger(position) && Number.isSafeInteger(length) && position >= 0 && length > 0;
    if (!inside || position + length > size) throw new RangeError(`read of ${length} at ${position} of ${size}`);
    reads += 1;
    bytes += length;
    return read(position, length);
  }, size);
  mxfWholeness(counting, size);
  return { structure: mxfStructure(counting, size), reads, bytes };
}

export function look(file: Uint8Array): Looked {
  return lookAt(file.length, (position, length) => file.subarray(position, position + length));
}

export function structureOf(file: Uint8Array): Structure {
  return look(file).structure;
}

export function pictureOf({ tracks }: Structure): PictureTrack {
  const found = tracks.find((track) => track.type === 'picture');
  if (found === undefined) throw new Error('no picture track');
  return found;
}

export function soundsOf({ tracks }: Structure): SoundTrack[] {
  return tracks.filter((track) => track.type === 'sound');
}

/** The timecode to believe, as a label. */
export function labelOf(timecode: StartTimecode | undefined): string | null {
  if (timecode === undefined) return null;
  const found = fromFrameNumber(timecode.frame, timecode.rate, timecode.drop);
  return found === null ? null : formatTimecode(found);
}

/**
 * Bytes of all essence elements by the last four bytes of their key: every key and length of the file is walked, so that the
 * sum owes nothing to index, duration or layout.
 */
export function walkElements(file: Uint8Array): Map<string, { elements: number; bytes: number }> {
  const sums = new Map<string, { elements: number; bytes: number }>();
  const view = Buffer.from(file.buffer, file.byteOffset, file.length);
  for (let at = 0; at + 17 <= file.length; ) {
    const key = view.toString('hex', at, at + 16);
    const first = view.readUInt8(at + 16);
    const more = first < 0x80 ? 0 : first - 0x80;
    const length = more === 0 ? first : Number(BigInt(`0x${view.toString('hex', at + 17, at + 17 + more)}`));
    if (key.startsWith('060e2b34010201') && key.slice(16, 24) === '0d010301') {
      const sum = sums.get(key.slice(24)) ?? { elements: 0, bytes: 0 };
      sums.set(key.slice(24), { elements: sum.elements + 1, bytes: sum.bytes + length });
    }
    at += 17 + more + length;
  }
  return sums;
}

type MediainfoTrack = Record<string, string | undefined>;

/** Tracks of the mediainfo tool, in its order. */
export function mediainfo(path: string, tool = 'mediainfo'): MediainfoTrack[] {
  const done = spawnSync(tool, ['--Output=JSON', path], { encoding: 'utf8' });
  if (done.error !== undefined)
    throw new Error(`mediainfo cannot be run (${done.error.message}): apt-get install mediainfo`);
  return JSON.parse(done.stdout).media.track;
}
