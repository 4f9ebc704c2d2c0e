import { describe, expect, test } from 'vitest';
import type { Read } from '../../../../src/core/intake/container/reading.ts';
import { atom, bytes, DATA_AT, movie, pictureEntry, soundEntry, timecodeEntry, track } from './bmff-build.ts';
import { look } from './bmff-sane.ts';
import { clips } from './media.ts';

/** What a look at a file costs: few reads, since on a network each is a round trip, and no essence. */

const MOST_READS = 6;
const MOST_BYTES = 100 * 1024;

describe('an hour of 9 GB', () => {
  const frames = 90_000;
  const size = 9_000_000_000;
  const timecodeAt = 5_000_000_000;

  const sizes = new Uint8Array(frames * 4);
  for (let frame = 0; frame < frames; frame += 1)
    new DataView(sizes.buffer).setUint32(frame * 4, 90_000 + (frame % 1000));
  const picture = track({
    timecodes: [3],
    entry: pictureEntry('apch', 3840, 2160),
    tables: [
      atom('stts', 0, 1, frames, 1),
      atom('stsz', 0, 0, frames, sizes),
      atom('co64', 0, frames, new Uint8Array(frames * 8)),
    ],
  });
  const sound = track({
    id: 2,
    handler: 'soun',
    timescale: 48_000,
    entry: soundEntry('sowt', 2, 16, 48_000),
    times: [[172_800_000, 1]],
    sizes: { count: 172_800_000, each: 1 },
  });
  const counter = [atom('stts', 0, 1, 1, frames), atom('stsz', 0, 4, 1), atom('co64', 0, 1, 1, timecodeAt % 2 ** 32)];
  const timecode = track({ id: 3, handler: 'tmcd', entry: timecodeEntry(0, 25, 1, 25), tables: counter });
  const built = movie([picture, sound, timecode], { data: new Uint8Array(0) });
  const moov = built.subarray(DATA_AT);

  /** Brand and index around media data of noise. */
  const file = (order: 'index first' | 'index last'): Read => {
    const brand = atom('ftyp', 'qt  ', 0);
    const rest = size - brand.length - moov.length;
    const header = bytes(1, 'mdat', Math.floor(rest / 2 ** 32), rest % 2 ** 32);
    const parts: readonly (readonly [number, Uint8Array])[] =
      order === 'index first'
        ? [
            [0, brand],
            [brand.length, moov],
            [brand.length + moov.length, header],
          ]
        : [
            [0, brand],
            [brand.length, header],
            [size - moov.length, moov],
          ];
    return (position, length) => {
      const block = new Uint8Array(length).fill(0x55);
      for (const [at, part] of [...parts, [timecodeAt, bytes(900_000)] as const]) {
        const from = Math.max(at, position);
        const to = Math.min(at + part.length, position + length);
        if (from < to) block.set(part.subarray(from - at, to - at), from - position);
      }
      return block;
    };
  };

  test.each(['index first', 'index last'] as const)('%s: the index and a few blocks', (order) => {
    const { structure, reads, bytes: taken } = look({ size, read: file(order) });
    expect(reads).toBeLessThanOrEqual(MOST_READS);
    expect(taken).toBeLessThanOrEqual(MOST_BYTES + moov.length);
    expect(structure.troubles).toEqual([]);
    expect(structure.tracks).toMatchObject([
      { type: 'picture', width: 3840, frames, durationSeconds: 3600, bytes: 90_499.5 * frames },
      { type: 'sound', samples: 172_800_000, bytes: 691_200_000 },
      { type: 'other', codecId: 'tmcd' },
    ]);
    expect(structure.timecodes).toMatchObject([{ frame: 900_000 }]);
  });
});

describe('movie fragments', () => {
  const one = (frames: number) => {
    const header = atom('tfhd', 0x02_0038, 1, 40, 2000, 0);
    return bytes(
      atom('moof', atom('mfhd', 0, 1), atom('traf', header, atom('trun', 0, frames))),
      atom('mdat', new Uint8Array(frames * 2000)),
    );
  };
  const start = (brand = 'isom') => {
    const empty = { ticks: 0, times: [], sizes: [], timescale: 1000 } as const;
    return bytes(
      movie([track(empty), atom('mvex', atom('trex', 0, 1, 1, 40, 2000, 0))], { brand, data: new Uint8Array(8) }),
    );
  };

  test('each costs two reads at most, and is counted once', () => {
    const file = bytes(start(), ...Array.from({ length: 100 }, () => one(25)));
    const { structure, reads } = look(file);
    expect(structure.tracks).toMatchObject([
      { frames: 2500, bytes: 5_000_000, durationSeconds: 100, frameRate: { num: 25, den: 1 }, variableRate: false },
    ]);
    expect(structure.troubles).toEqual([]);
    expect(reads).toBeLessThanOrEqual(2 * 100 + 4);
  });

  const unknown = { frames: null, bytes: null, durationSeconds: null, frameRate: { num: 25, den: 1 } };
  const lost = 'not every movie fragment could be counted: frames, bytes and lengths are not known';

  test('one that is cut: what cannot be counted is not known, the rate is', () => {
    const file = bytes(start(), one(25), one(25));
    for (const missing of [1, 30_000, 50_010, 50_050]) {
      const { tracks, troubles } = look(file.subarray(0, file.length - missing)).structure;
      expect([missing, tracks[0], troubles]).toMatchObject([missing, unknown, [lost]]);
    }
  });

  test('a damaged run; noise behind the last', () => {
    const file = bytes(start(), one(25), one(25));
    const noise = look(bytes(file, Uint8Array.of(1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16))).structure;
    expect(noise.tracks).toMatchObject([unknown]);
    const wrong = atom('moof', atom('traf', atom('tfhd', 0, 1), atom('trun', 0x100, 1000, 40)));
    expect(look(bytes(file, wrong, atom('mdat'))).structure.troubles).toEqual([
      'table trun states 1000 entries and has room for 1',
      lost,
    ]);
  });

  test('announced and not there', () => {
    expect(look(start()).structure).toMatchObject({ tracks: [{ frames: null, bytes: null }], troubles: [lost] });
  });

  test('in front of the index: not counted, and so nothing is', () => {
    const { structure } = look(bytes(one(25), start(), one(25)));
    expect(structure).toMatchObject({ tracks: [unknown], troubles: [lost] });
    expect(look(one(25)).structure).toMatchObject({ tracks: [], troubles: ['there is no index (box moov)'] });
  });

  test('more boxes than are walked', () => {
    const file = bytes(start(), ...Array.from({ length: 6000 }, () => one(1)));
    const { structure, milliseconds } = look(file);
    expect(structure.tracks).toMatchObject([unknown]);
    expect(structure.troubles).toEqual([lost]);
    expect(milliseconds).toBeLessThan(1000);
  });

  test('samples in the index and in fragments', () => {
    const tables = {
      timescale: 1000,
      times: [
        [5, 40],
        [2, 41],
      ],
      sizes: { count: 7, each: 100 },
    } as const;
    const index = movie([track(tables), atom('mvex', atom('trex', 0, 1, 1, 40, 2000, 0))], {
      data: new Uint8Array(800),
    });
    expect(look(bytes(index, one(25))).structure.tracks).toMatchObject([
      { frames: 32, bytes: 50_700, durationSeconds: 1.282, frameRate: { num: 25, den: 1 } },
    ]);
  });

  test('the timecode of a file whose samples are all in fragments', () => {
    const entry = timecodeEntry(0, 25, 1, 25);
    const none = { times: [], tables: [] } as const;
    const index = movie([
      track({ ...none, timecodes: [2] }),
      track({ ...none, id: 2, handler: 'tmcd', entry }),
      atom('mvex'),
    ]);
    const run = (offset: number) =>
      atom('moof', atom('traf', atom('tfhd', 0x02_0018, 2, 25, 4), atom('trun', 1, 1, offset)));
    const file = bytes(index, run(run(0).length + 8), atom('mdat', bytes(90_000)));
    expect(look(file).structure.timecodes).toMatchObject([{ frame: 90_000 }]);
  });

  test('headers of more than 64 MiB are not read', () => {
    const begin = bytes(start(), 70_000_000, 'moof');
    const size = begin.length - 8 + 70_000_000;
    const read = (at: number, length: number) => {
      const block = new Uint8Array(length);
      if (at < begin.length) block.set(begin.subarray(at, at + length));
      return block;
    };
    const { structure, bytes: taken } = look({ size, read });
    expect(structure.tracks).toMatchObject([{ frames: null, bytes: null }]);
    expect(structure.troubles).toEqual(['more headers of movie fragments than are looked at', lost]);
    expect(taken).toBeLessThan(MOST_BYTES);
  });

  // ISO/IEC 14496-12 clauses 8.8.7 and 8.8.8: what the run states counts before the fragment, and that before the track.
  test('lengths and sizes of the run, of the fragment, of the track', () => {
    const runs = [
      atom('traf', atom('tfhd', 0x02_0000, 1), atom('trun', 0, 3)),
      atom('traf', atom('tfhd', 0x02_0018, 1, 20, 100), atom('trun', 0x5, 4, 0, 0)),
      atom('traf', atom('tfhd', 0x01, 1, 0, 0), atom('trun', 0xf01, 2, 8, bytes(30, 7, 0, 0), bytes(30, 8, 0, 0))),
    ];
    const file = bytes(start(), ...runs.flatMap((traf) => [atom('moof', traf), atom('mdat', new Uint8Array(9000))]));
    expect(look(file).structure.tracks).toMatchObject([
      {
        frames: 9,
        bytes: 3 * 2000 + 4 * 100 + 15,
        durationSeconds: (3 * 40 + 4 * 20 + 2 * 30) / 1000,
        variableRate: true,
      },
    ]);
  });

  test('optional fields in front of others: base, description, first flags', () => {
    const runs = [
      atom('traf', atom('tfhd', 0x1b, 1, 0, 0, 1, 50, 300), atom('trun', 0x4, 2, 0x0200_0000)),
      atom('traf', atom('tfhd', 0x02_0000, 1), atom('trun', 0x304, 2, 0x0200_0000, bytes(50, 11, 50, 12))),
    ];
    const file = bytes(start(), ...runs.flatMap((traf) => [atom('moof', traf), atom('mdat', new Uint8Array(900))]));
    expect(look(file).structure.tracks).toMatchObject([
      { frames: 4, bytes: 623, durationSeconds: 0.2, frameRate: { num: 20, den: 1 }, variableRate: false },
    ]);
  });
});

test('every committed clip', () => {
  for (const { name, bytes: file } of clips('mov', 'mp4')) {
    const { reads, bytes: taken } = look(file);
    expect([name, reads <= MOST_READS, taken <= MOST_BYTES]).toEqual([name, true, true]);
  }
});
