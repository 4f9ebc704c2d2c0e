import { describe, expect, test } from 'vitest';
import { avi, bitmap, oldIndex, partIndex, streamHeader, superIndex } from './avi-files.ts';
import { join, le32 } from './media.ts';
import { chunk, list, look, pictureOf, riff, sparse, structureOf } from './riff-files.ts';
import { format } from './wave-files.ts';

const picture = [streamHeader({}), bitmap(320, 180)];
const sound = [
  streamHeader({ type: 'auds', handler: '\0\0\0\0', scale: 4, rate: 192_000, length: 96_000, unitBytes: 4 }),
  chunk('strf', format({ bits: 16 }).subarray(8)),
];

describe('bytes of picture', () => {
  const media = join(chunk('00dc', new Uint8Array(700)), chunk('01wb', new Uint8Array(400)));

  test('by the index behind the picture: its own stream, no palettes', () => {
    const entries = [
      ['00dc', 300],
      ['01wb', 400],
      ['00dc', 0],
      ['00pc', 50],
      ['00db', 301],
    ] as const;
    const file = avi({
      streams: [[streamHeader({ length: 3 }), bitmap(320, 180)], sound],
      movie: media,
      behind: [oldIndex(entries)],
    });
    expect(pictureOf(structureOf(file))).toMatchObject({ frames: 3, bytes: 601 });
    expect(structureOf(file).troubles).toEqual([]);
  });

  test('an index of another number of frames, of none, and of more bytes than there are', () => {
    const of = (...entries: [string, number][]) =>
      structureOf(avi({ streams: [picture], movie: media, behind: [oldIndex(entries)] }));
    expect(of(['00dc', 300]).troubles).toEqual(['the header states 50 frames, the index lists 1']);
    expect(pictureOf(of(['01wb', 300])).bytes).toBeNull();
    expect(pictureOf(of(['00dc', 300_000])).bytes).toBeNull();
    expect(of(['00dc', 300_000]).troubles).toEqual(['the index lists more bytes than there are']);
  });

  test('a long index is not read', () => {
    const long = Array.from({ length: 4000 }, () => ['00dc', 1] as const);
    const { structure, bytes, reads } = look(avi({ streams: [picture], movie: media, behind: [oldIndex(long)] }));
    expect(pictureOf(structure)).toMatchObject({ frames: 50, bytes: null });
    expect(structure.troubles).toEqual([]);
    expect([reads, bytes]).toEqual([1, 32_768]);
  });

  test('with further parts the index of the first is not all of it', () => {
    const first = avi({ streams: [picture], total: 75, movie: media, behind: [oldIndex([['00dc', 300]])] });
    const { structure } = look(join(first, riff('AVIX', list('movi', media))));
    expect(pictureOf(structure)).toMatchObject({ frames: 75, durationSeconds: 3, bytes: null });
  });

  /** A file of several gigabytes: parts of `lengths`, each with its index at the end of its own gigabyte. */
  const openDml = (parts: readonly number[][], headerFrames = parts.flat().length, excluded = 0) => {
    const gigabyte = 1_000_000_000;
    const indexes = parts.map((lengths) => partIndex(lengths));
    const places = indexes.map((index, part) => ({
      at: (part + 1) * gigabyte,
      length: index.length - excluded,
      frames: parts[part]?.length ?? 0,
    }));
    const head = avi({
      streams: [[streamHeader({ length: parts[0]?.length ?? 0 }), bitmap(320, 180), superIndex(places)]],
      total: headerFrames,
    });
    const size = (parts.length + 1) * gigabyte;
    // The first part ends with its index.
    head.set(le32(gigabyte + (indexes[0]?.length ?? 0) - 8), 4);
    const movie = head.length - 8 - 4 - 12;
    head.set(le32(gigabyte + (indexes[0]?.length ?? 0) - movie - 8), movie + 4);
    const known = indexes.map((index, part) => [(part + 1) * gigabyte, index] as const);
    return { size, read: sparse(size, [[0, head], ...known]) };
  };

  test.each([0, 8])('by the indexes of all parts, their own header of %i bytes left out', (excluded) => {
    const { structure, reads, bytes } = look(
      openDml(
        [
          [1000, 2000, 3001],
          [50_000, 60_000],
        ],
        undefined,
        excluded,
      ),
    );
    expect(structure.troubles).toEqual([]);
    expect(pictureOf(structure)).toMatchObject({ frames: 5, bytes: 116_001 });
    expect(reads).toBeLessThanOrEqual(6);
    expect(bytes).toBeLessThanOrEqual(102_400);
  });

  test('more parts, or longer indexes, than a few reads bring', () => {
    for (const parts of [[[1], [2], [3], [4]], [Array.from({ length: 7000 }, () => 1000)]]) {
      const { structure, reads, bytes } = look(openDml(parts));
      expect(pictureOf(structure)).toMatchObject({ frames: parts.flat().length, bytes: null });
      expect(structure.troubles).toEqual([]);
      expect([reads <= 6, bytes <= 102_400]).toEqual([true, true]);
    }
  });

  test('a part that is missing: no length is told', () => {
    for (const parts of [
      [[1000], [2000]],
      [[1], [2], [3], [4]],
    ]) {
      const { size, read } = openDml(parts);
      const { structure } = look({ size: size - 1_500_000_000, read });
      expect(pictureOf(structure)).toMatchObject({ frames: null, durationSeconds: null, bytes: null });
      expect(structure.troubles).toEqual([
        expect.stringMatching(/^the file goes on to byte [24],000,000,040, and has/),
      ]);
    }
  });

  test('something else where an index of a part belongs', () => {
    const { size, read } = openDml([[1000], [2000]]);
    const damaged = sparse(size, [
      [0, read(0, 20_000)],
      [1_000_000_000, read(1_000_000_000, 40)],
    ]);
    const { structure } = look({ size, read: damaged });
    expect(pictureOf(structure)).toMatchObject({ frames: 2, bytes: null });
    expect(structure.troubles).toEqual(['there is no index of a part at byte 2,000,000,000']);
  });
});
