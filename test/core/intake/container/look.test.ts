import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { headerLook } from '../../../../src/core/intake/container/look.ts';
import type { HeaderLook } from '../../../../src/core/intake/container/structure.ts';
import { knowFile } from '../../../../src/core/intake/know.ts';
import { extension } from '../../../../src/core/intake/path-text.ts';
import { runs } from '../../../effort.ts';
import { clip, clips, judge } from './media.ts';

/** No file may take more of the processor than this (the goal), whatever is wrong with it. */
const MOST_MILLISECONDS = 1000;

const all = clips('mov', 'mp4', 'mxf', 'wav', 'avi', 'dpx', 'dv');

/** Looks at bytes as a file; a read outside of them is a failure. */
function look(bytes: Uint8Array, name: string): HeaderLook {
  const read = (position: number, length: number) => {
    const inside = Number.isInteger(position) && Number.isInteger(length) && position >= 0 && length > 0;
    if (!inside || position + length > bytes.length) throw new RangeError(`read of ${length} at ${position}`);
    return bytes.subarray(position, position + length);
  };
  const before = process.threadCpuUsage();
  const told = headerLook(read, bytes.length, name);
  const { user, system } = process.threadCpuUsage(before);
  expect((user + system) / 1000).toBeLessThan(MOST_MILLISECONDS);
  return told;
}

describe('both answers in one look', () => {
  test.each(all.map(({ name }) => name))('%s: whether it is all there is as when that alone is asked', (name) => {
    const bytes = clip(name);
    expect(look(bytes, name).finding).toEqual(judge(bytes, name));
  });

  test('each container that is read here tells of itself, the others do not', () => {
    const told = all.map(({ name, bytes }) => [
      extension(name).toLowerCase(),
      look(bytes, name).structure?.container ?? null,
    ]);
    expect(new Set(told.map((pair) => pair.join(' ')))).toEqual(
      new Set([...['mov QuickTime', 'mp4 MP4', 'mxf MXF OP1a', 'wav BWF', 'avi AVI', 'dpx DPX', 'dv ']]),
    );
  });

  test('an empty file', () => {
    expect(look(new Uint8Array(0), 'a.mov')).toEqual({ finding: { verdict: 'empty', detail: null }, structure: null });
  });
});

describe('damaged at random, all containers', () => {
  const place = fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true });
  const edit = fc.tuple(
    place,
    fc.uint8Array({ minLength: 1, maxLength: 9 }),
    fc.constantFrom(64, 4096, Number.POSITIVE_INFINITY),
  );
  const name = fc.oneof(fc.constant(null), fc.constantFrom('a.mov', 'a.mxf', 'a.wav', 'a.txt'));

  /** Bytes overwritten near the start, in the header, or anywhere; half of the files are cut as well. */
  function damage(
    original: Uint8Array,
    edits: readonly (readonly [number, Uint8Array, number])[],
    kept: number,
  ): Uint8Array {
    const bytes = original.slice(0, kept > 0.5 ? original.length : Math.ceil(original.length * kept * 2));
    for (const [share, patch, within] of edits) {
      const at = Math.floor(share * Math.min(within, bytes.length));
      bytes.set(patch.subarray(0, bytes.length - at), at);
    }
    return bytes;
  }

  test('never throws, never reads outside, within a second, and no fact is a number that cannot be', () => {
    fc.assert(
      fc.property(
        ...[fc.constantFrom(...all), fc.array(edit, { minLength: 1, maxLength: 8 }), place, name],
        (original, edits, kept, other) => {
          const bytes = damage(original.bytes, edits, kept);
          const { structure } = look(bytes, other ?? original.name);
          const known = knowFile(
            { structure, tracks: [], readerTrouble: null },
            { sizeBytes: bytes.length, extension: extension(original.name) },
          );
          for (const [fact, value] of Object.entries(known?.facts ?? {})) {
            if (typeof value === 'number') expect([fact, Number.isFinite(value) && value >= 0]).toEqual([fact, true]);
          }
          expect(known?.facts.recordedAt ?? '').not.toMatch(/^(0000|1904-01-01|1970-01-01)/);
        },
      ),
      { numRuns: runs(300), seed: 20_270_303 },
    );
  });

  test('random bytes of any length behind the first bytes of a real file', () => {
    fc.assert(
      fc.property(
        ...[fc.constantFrom(...all), fc.nat(200), fc.uint8Array({ maxLength: 600 })],
        ({ bytes, name: real }, begin, rest) => {
          look(new Uint8Array([...bytes.subarray(0, begin), ...rest]), real);
        },
      ),
      { numRuns: runs(300), seed: 20_270_304 },
    );
  });
});
