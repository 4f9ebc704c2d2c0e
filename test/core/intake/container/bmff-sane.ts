import { expect } from 'vitest';
import { bmffWholeness } from '../../../../src/core/intake/container/bmff.ts';
import { openMovie } from '../../../../src/core/intake/container/bmff-movie.ts';
import { bmffStructure } from '../../../../src/core/intake/container/bmff-structure.ts';
import type { Read } from '../../../../src/core/intake/container/reading.ts';
import { blockReader } from '../../../../src/core/intake/container/source.ts';
import type { Structure } from '../../../../src/core/intake/container/structure.ts';

export interface Look {
  structure: Structure;
  reads: number;
  bytes: number;
  /** Processor time of this thread: waiting for a busy machine does not count. */
  milliseconds: number;
}

/** Wholeness and structure of a file, opened once for both, through a block reader. A read outside is a failure. */
export function look(file: Uint8Array | { size: number; read: Read }): Look {
  const size = file instanceof Uint8Array ? file.length : file.size;
  const source: Read = file instanceof Uint8Array ? (at, length) => file.subarray(at, at + length) : file.read;
  let reads = 0;
  let bytes = 0;
  const read = blockReader((at, length) => {
    const inside = Number.isInteger(at) && Number.isInteger(length) && at >= 0 && length > 0 && at + length <= size;
    if (!inside) throw new RangeError(`read of ${length} bytes at ${at} of ${size}`);
    reads += 1;
    bytes += length;
    return source(at, length);
  }, size);
  const before = process.threadCpuUsage();
  const movie = openMovie(read, size);
  bmffWholeness(read, size, movie);
  const structure = bmffStructure(read, size, movie);
  const { user, system } = process.threadCpuUsage(before);
  expectSane(structure, size);
  return { structure, reads, bytes, milliseconds: (user + system) / 1000 };
}

/** What holds of every answer, whatever the file: numbers that can be, and nothing that is larger than the file. */
function expectSane(structure: Structure, size: number): void {
  expect(['QuickTime', 'MP4']).toContain(structure.container);
  expect(structure.tracks.length).toBeLessThanOrEqual(128);
  expect(structure.troubles.length).toBeLessThanOrEqual(17);
  for (const track of structure.tracks) {
    for (const [field, value] of Object.entries(track)) {
      if (typeof value === 'number') expect([field, Number.isFinite(value) && value >= 0]).toEqual([field, true]);
    }
    if (track.type === 'picture') {
      expect(track.width === 0 || track.height === 0).toBe(false);
      for (const ratio of [track.frameRate, track.pixelAspect]) if (ratio !== null) expectRatio(ratio);
    }
    const elsewhere = structure.troubles.includes('the media data of a track lie in another file');
    if (track.type !== 'other' && !elsewhere) expect(track.bytes ?? 0).toBeLessThanOrEqual(size);
  }
  for (const { frame, rate } of structure.timecodes) {
    expect(Number.isSafeInteger(frame)).toBe(true);
    expectRatio(rate);
  }
  if (structure.createdAt !== null)
    expect(structure.createdAt).toMatch(/^(19[789]|20|21)\d\d-\d\d-\d\d|^\d{4}-\d\d-\d\d/);
}

function expectRatio({ num, den }: { num: number; den: number }): void {
  expect([num > 0, den > 0, Number.isSafeInteger(num), Number.isSafeInteger(den)]).toEqual([true, true, true, true]);
}
