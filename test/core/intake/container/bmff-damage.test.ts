import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { bmffStructure } from '../../../../src/core/intake/container/bmff-structure.ts';
import { runs } from '../../../effort.ts';
import { atom, bytes, locate, movie, patched, structureOf, track } from './bmff-build.ts';
import { look } from './bmff-sane.ts';
import { clip } from './media.ts';

/** Damaged files and files made to hurt: an answer each time, in well under a second, from inside the file. */

const MOST_MILLISECONDS = 1000;
const originals = ['S003_0042.MP4', 'IMG_0217.MOV', 'tidewater-a.mov', 'lock-keepers_review.mp4'];

describe('one byte is wrong', () => {
  const damage = [0, 0x7f, 0xff, -1, -0x80] as const;
  const damaged = (file: Uint8Array, at: number, value: number) => {
    const copy = Uint8Array.from(file);
    copy[at] = value < 0 ? (copy[at] ?? 0) ^ -value : value;
    return copy;
  };

  test.each(originals)('each of the first 64 bytes of %s', (name) => {
    const file = clip(name);
    for (let at = 0; at < 64; at += 1) {
      for (const value of damage) expect(look(damaged(file, at, value)).milliseconds).toBeLessThan(MOST_MILLISECONDS);
    }
  });

  test('every byte of a small index: a picture that is there is told right, but for the field that is hit', () => {
    const file = clip('A005C001_270211.mov');
    const [good] = structureOf(file).tracks;
    const { start, end } = locate(file, 'moov');
    let same = 0;
    let all = 0;
    for (let at = start; at < end; at += 1) {
      for (const value of damage) {
        const { structure, milliseconds } = look(damaged(file, at, value));
        expect(milliseconds).toBeLessThan(MOST_MILLISECONDS);
        const [picture] = structure.tracks;
        const fields = Object.entries(good ?? {}).filter(([field, told]) => {
          const now: unknown =
            picture === undefined ? undefined : Object.entries(picture).find(([one]) => one === field)?.[1];
          return JSON.stringify(now) === JSON.stringify(told);
        });
        all += 1;
        if (fields.length === Object.keys(good ?? {}).length) same += 1;
      }
    }
    // Most of an index is names, reserved fields and dates.
    expect(same / all).toBeGreaterThan(0.6);
    expect(same).toBeLessThan(all);
  });

  test('cut anywhere', () => {
    for (const name of originals) {
      const file = clip(name);
      for (let length = 1; length < file.length; length += 997) look(file.subarray(0, length));
    }
  });
});

describe('random damage', () => {
  const values = fc.oneof(fc.constantFrom(0, 1, 7, 8, 0x7f, 0x80, 0xff), fc.nat(255));
  const changes = fc.array(fc.tuple(fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true }), values), {
    minLength: 1,
    maxLength: 12,
  });

  test.each([...originals, 'A004C002_270211.mov'])('in the index of %s', (name) => {
    const file = clip(name);
    const { start, end } = locate(file, 'moov');
    fc.assert(
      fc.property(changes, (list) => {
        const copy = Uint8Array.from(file);
        for (const [share, value] of list) copy[start + Math.floor(share * (end - start))] = value;
        expect(look(copy).milliseconds).toBeLessThan(MOST_MILLISECONDS);
      }),
      { numRuns: runs(100), seed: 20_270_211 },
    );
  });

  // Boxes of the names that are looked for, with anything in them, in any order and depth.
  const name = fc.constantFrom(
    ...['moov', 'trak', 'mdia', 'minf', 'stbl', 'stsd', 'stts', 'stsz', 'stz2', 'stco', 'co64', 'mdhd', 'hdlr', 'tkhd'],
    ...['mvhd', 'edts', 'elst', 'tref', 'tmcd', 'dinf', 'dref', 'udta', 'meta', 'keys', 'ilst', 'mvex', 'trex', 'moof'],
    ...[
      'traf',
      'tfhd',
      'trun',
      'mfra',
      'mdat',
      'esds',
      'dac3',
      'wave',
      'pasp',
      'fiel',
      'ispe',
      'iprp',
      'ipco',
      'ipma',
      'iinf',
    ],
  );
  const word = fc.oneof(
    fc.constantFrom(
      0,
      1,
      2,
      8,
      0x0100_0000,
      0x7fff_ffff,
      0x8000_0000,
      0xffff_ffff,
      0x7669_6465,
      0x736f_756e,
      0x746d_6364,
    ),
    fc.nat(5000),
  );
  const content = fc.array(word, { maxLength: 40 }).map((words) => bytes(...words));
  const { tree } = fc.letrec<{ tree: Uint8Array }>((tie) => ({
    tree: fc
      .tuple(
        name,
        fc.oneof(
          { maxDepth: 6 },
          content,
          fc.array(tie('tree'), { maxLength: 8 }).map((list) => bytes(...list)),
        ),
      )
      .map(([type, inside]) => atom(type, inside)),
  }));

  test('any boxes at all', () => {
    fc.assert(
      fc.property(fc.array(tree, { maxLength: 8 }), fc.boolean(), (boxes, wrapped) => {
        const file = wrapped
          ? movie([atom('trak', atom('mdia', atom('minf', atom('stbl', ...boxes))))])
          : bytes(...boxes);
        if (file.length > 0) expect(look(file).milliseconds).toBeLessThan(MOST_MILLISECONDS);
      }),
      { numRuns: runs(400), seed: 20_270_212 },
    );
  });
});

describe('beyond limits', () => {
  const quick = (file: Uint8Array) => {
    const { structure, milliseconds } = look(file);
    expect(milliseconds).toBeLessThan(MOST_MILLISECONDS);
    return structure;
  };

  test('five thousand tracks', () => {
    const one = track({ times: [[2, 1]], sizes: [10, 10] });
    const { tracks, troubles } = quick(movie(Array.from({ length: 5000 }, () => one)));
    expect(tracks).toHaveLength(128);
    expect(troubles).toEqual(['5,000 tracks: only the first 128 are looked at']);
  });

  test('ten thousand empty tracks, and more boxes than are looked at', () => {
    expect(quick(movie(Array.from({ length: 9000 }, () => atom('trak')))).tracks).toHaveLength(128);
    const many = quick(movie(Array.from({ length: 10_001 }, () => atom('free'))));
    expect(many.troubles).toEqual(['more than 10000 boxes in moov: the rest is not looked at']);
  });

  test('boxes nested three thousand deep', () => {
    let nested = atom('stbl');
    for (let depth = 0; depth < 3000; depth += 1) nested = atom(['trak', 'mdia', 'minf'][depth % 3] ?? 'trak', nested);
    expect(quick(movie([nested])).tracks.length).toBeLessThanOrEqual(1);
  });

  test('boxes of size 0 and of 64 bit inside the index', () => {
    const file = movie([track({ times: [[4, 1]], sizes: { count: 4, each: 25 } })]);
    // The last box of the index, open to its end; QuickTime writers have left it so.
    const { start } = locate(file, 'moov/trak');
    expect(quick(patched(file, [start, 0])).tracks).toMatchObject([{ frames: 4, bytes: 100 }]);
    const wide = bytes(1, 'trak', 0, 16 + 8, atom('free'));
    expect(quick(movie([wide, track()])).tracks).toHaveLength(2);
    const vast = quick(movie([bytes(1, 'trak', -1, -1, new Uint8Array(8)), track()]));
    expect(vast.tracks).toEqual([]);
    expect(vast.troubles).toEqual(['a box in moov does not fit: trak']);
  });

  test('a box that is four bytes too long for its parent', () => {
    const file = movie([track({ times: [[4, 1]], sizes: { count: 4, each: 25 } })]);
    const sizes = locate(file, 'moov/trak/mdia/minf/stbl/stsz');
    const table = locate(file, 'moov/trak/mdia/minf/stbl');
    const long = quick(patched(file, [sizes.start, table.end - sizes.start + 4]));
    expect(long.troubles).toEqual(['a box in stbl does not fit: stsz']);
    expect(long.tracks).toMatchObject([{ frames: null, bytes: null, frameRate: { num: 25, den: 1 } }]);
  });

  test('a large index: a million and a half samples with sizes and lengths of their own', () => {
    const count = 1_500_000;
    const sizes = new Uint8Array(count * 4);
    const times = new Uint8Array(count * 8);
    const view = new DataView(times.buffer);
    for (let index = 0; index < count; index += 1) {
      view.setUint32(index * 8, 1);
      view.setUint32(index * 8 + 4, 1 + ((index * 7919) % 4001));
    }
    const tables = [atom('stts', 0, count, times), atom('stsz', 0, 0, count, sizes)];
    const [picture] = quick(movie([track({ timescale: 90_000, tables })])).tracks;
    expect(picture).toMatchObject({ frames: count, bytes: 0, variableRate: true });
  });

  // Three tracks of five million samples each: a day at 60 frames a second.
  test('60 MB of index', () => {
    const count = 5_000_000;
    const sizes = new Uint8Array(count * 4).fill(0);
    const tables = [atom('stts', 0, 1, count, 1), atom('stsz', 0, 0, count, sizes)];
    const one = track({ timescale: 60, tables });
    const file = movie([one, one, one]);
    expect(file.length).toBeGreaterThan(60_000_000);
    const size = 1e12;
    const { structure, reads, milliseconds } = look({ size, read: (at, length) => padded(file, size, at, length) });
    expect(milliseconds).toBeLessThan(MOST_MILLISECONDS);
    expect(reads).toBeLessThanOrEqual(6);
    expect(structure.tracks).toMatchObject(Array(3).fill({ frames: count, frameRate: { num: 60, den: 1 } }));
  });

  test('an index of more than 64 MiB is not read', () => {
    const head = bytes(atom('ftyp', 'qt  ', 0), 70_000_000, 'moov');
    const { structure, bytes: taken } = look({
      size: 71_000_000,
      read: (at, length) => padded(head, 71_000_000, at, length),
    });
    expect(structure).toMatchObject({ container: 'QuickTime', tracks: [] });
    expect(structure.troubles).toEqual(['the index of 69,999,992 bytes is larger than is looked at']);
    expect(taken).toBeLessThan(100_000);
  });

  test('faults by the hundred are told once, and not for ever', () => {
    const bad = (index: number) => track({ tables: [atom('stsz', 0, 0, 1000 + index), atom('stts', 0, 2000 + index)] });
    const { troubles } = quick(movie(Array.from({ length: 120 }, (_, index) => bad(index))));
    expect(troubles).toHaveLength(17);
    expect(troubles[0]).toBe('table stsz states 1000 entries and has room for 0');
    expect(troubles[16]).toBe('more faults than are told');
  });

  test('what the reader throws passes through, and nothing else comes', () => {
    const broken = new Error('input/output error');
    const read = () => {
      throw broken;
    };
    expect(() => bmffStructure(read, 1000)).toThrow(broken);
    expect(bmffStructure(() => new Uint8Array(0), 1000)).toMatchObject({ tracks: [] });
  });
});

/** The file, and behind it a box of nothing up to the size. */
function padded(file: Uint8Array, size: number, at: number, length: number): Uint8Array {
  const tail = bytes(1, 'free', Math.floor((size - file.length) / 2 ** 32), (size - file.length) % 2 ** 32);
  const part = new Uint8Array(length);
  if (at < file.length) part.set(file.subarray(at, at + length));
  const from = file.length - at;
  if (from < length && from > -16)
    part.set(tail.subarray(Math.max(0, -from), Math.max(0, length - from)), Math.max(0, from));
  return part;
}
