import { expect } from 'vitest';
import { dpxStructure } from '../../../../src/core/intake/container/dpx-structure.ts';
import type { Finding } from '../../../../src/core/intake/container/finding.ts';
import type { Read } from '../../../../src/core/intake/container/reading.ts';
import { riffStructure } from '../../../../src/core/intake/container/riff-structure.ts';
import { blockReader } from '../../../../src/core/intake/container/source.ts';
import type { PictureTrack, SoundTrack, Structure } from '../../../../src/core/intake/container/structure.ts';
import { recognise, wholenessAs } from '../../../../src/core/intake/container/wholeness.ts';
import { ascii, le32 } from './media.ts';

/** Files of RIFF chunks built by hand, and a look at any file that counts what it costs. */

export function le16(value: number): number[] {
  return [value & 255, (value >>> 8) & 255];
}

export function le64(value: number): number[] {
  return [...le32(value % 0x1_0000_0000), ...le32(Math.floor(value / 0x1_0000_0000))];
}

/** Bytes one behind the other; unlike `join` also quick with millions of them. */
function packed(...parts: (Uint8Array | number[])[]): Uint8Array {
  const bytes = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
}

/** A chunk with its filler byte; `stated` instead of its real length. */
export function chunk(id: string, content: Uint8Array | number[], stated = content.length): Uint8Array {
  return packed(ascii(id), le32(stated), content, content.length % 2 === 1 ? [0] : []);
}

export function list(kind: string, ...chunks: Uint8Array[]): Uint8Array {
  return chunk('LIST', packed(ascii(kind), ...chunks));
}

export function riff(form: string, ...chunks: Uint8Array[]): Uint8Array {
  return chunk('RIFF', packed(ascii(form), ...chunks));
}

export interface Looked {
  structure: Structure;
  finding: Finding;
  /** Reads of the file, and the bytes they brought. */
  reads: number;
  bytes: number;
}

/** A file that is only partly there: `known` at their positions, everything else `filler`. */
export function sparse(size: number, known: readonly (readonly [number, Uint8Array])[], filler = 7): Read {
  return (position, length) => {
    const bytes = new Uint8Array(length).fill(filler);
    for (const [start, part] of known) {
      const from = Math.max(position, start);
      const to = Math.min(position + length, start + part.length, size);
      if (from < to) bytes.set(part.subarray(from - start, to - start), from - position);
    }
    return bytes;
  };
}

/** Whole look at a file: wholeness and structure through one block reader, as `headerLook` does it. */
export function look(file: Uint8Array | { size: number; read: Read }, name = 'x.wav'): Looked {
  const size = file instanceof Uint8Array ? file.length : file.size;
  const source: Read = file instanceof Uint8Array ? (at, length) => file.subarray(at, at + length) : file.read;
  let [reads, bytes] = [0, 0];
  const bounded = blockReader((position, length) => {
    const inside = Number.isInteger(position) && Number.isInteger(length) && position >= 0 && length > 0;
    if (!inside || position + length > size) throw new RangeError(`read of ${length} at ${position} of ${size}`);
    reads += 1;
    bytes += length;
    return source(position, length);
  }, size);
  const kind = recognise(bounded, name);
  const finding = wholenessAs(kind, bounded, size, name);
  const structure = kind === 'dpx' ? dpxStructure(bounded, size) : riffStructure(bounded, size);
  return { structure, finding, reads, bytes };
}

export function structureOf(file: Uint8Array): Structure {
  return look(file).structure;
}

export function soundOf(structure: Structure): SoundTrack {
  const [track] = structure.tracks.filter((one) => one.type === 'sound');
  if (track === undefined) throw new Error('no sound track');
  return track;
}

export function pictureOf(structure: Structure): PictureTrack {
  const [track] = structure.tracks.filter((one) => one.type === 'picture');
  if (track === undefined) throw new Error('no picture track');
  return track;
}

/** Whatever is damaged: every number is a finite one above zero or unknown, every text is text. */
export function expectSane({ tracks, timecodes, ties, troubles, createdAt }: Structure): void {
  for (const track of tracks) {
    for (const value of Object.values(track)) {
      if (typeof value === 'number' && !(Number.isFinite(value) && value >= 0)) expect(track).toBe('sane');
    }
  }
  for (const { frame, rate } of timecodes) {
    expect([Number.isSafeInteger(frame), frame >= 0, rate.num > 0, rate.den > 0]).toEqual([true, true, true, true]);
  }
  if (ties.timeReference !== null) expect(Number.isSafeInteger(ties.timeReference)).toBe(true);
  if (createdAt !== null) expect(createdAt).toMatch(/^\d{4}-\d\d-\d\d(T\d\d:\d\d:\d\d(Z|[+-]\d\d:\d\d)?)?$/);
  expect(troubles.length).toBeLessThan(400);
}
