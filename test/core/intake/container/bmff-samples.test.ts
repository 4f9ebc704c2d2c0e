import { describe, expect, test } from 'vitest';
import type { PictureTrack, Structure } from '../../../../src/core/intake/container/structure.ts';
import { atom, be16, movie, structureOf, track } from './bmff-build.ts';

/** Values are those of the clauses named; ISO/IEC 14496-12 where none is, QTFF for the QuickTime File Format. */

function picture(structure: Structure): PictureTrack {
  const found = structure.tracks.find((one) => one.type === 'picture');
  if (found === undefined) throw new Error('no picture track');
  return found;
}

describe('rate', () => {
  type Runs = readonly (readonly [number, number])[];
  const rate = (timescale: number, times: Runs) => {
    const { frameRate, variableRate, durationSeconds } = picture(structureOf(movie([track({ timescale, times })])));
    return { rate: frameRate === null ? null : `${frameRate.num}/${frameRate.den}`, variableRate, durationSeconds };
  };

  test('a last sample of another length is not variable; its length counts', () => {
    expect(
      rate(25, [
        [99, 1],
        [1, 7],
      ]),
    ).toEqual({ rate: '25/1', variableRate: false, durationSeconds: 106 / 25 });
  });

  test('one odd frame in a hundred is not variable, two are, and so is one that lasts', () => {
    expect(
      rate(600, [
        [50, 20],
        [1, 21],
        [50, 20],
      ]),
    ).toMatchObject({ rate: '30/1', variableRate: false });
    expect(
      rate(600, [
        [50, 20],
        [2, 23],
        [50, 20],
      ]),
    ).toMatchObject({ rate: '30/1', variableRate: true });
    expect(
      rate(600, [
        [500, 20],
        [1, 6000],
        [500, 20],
      ]),
    ).toMatchObject({ rate: '30/1', variableRate: true });
  });

  // A film of 54,180 frames that was joined from loops, with 300 odd ones (0.6 %).
  test('a long file with a joint here and there', () => {
    const loops: Runs = Array.from(
      { length: 60 },
      () =>
        [
          [898, 1001],
          [5, 1100],
        ] as const,
    ).flat();
    expect(rate(30_000, loops)).toMatchObject({ rate: '30000/1001', variableRate: false });
  });

  test('rates written in thousandths are the exact ones (SMPTE ST 12-1)', () => {
    expect(rate(29_970, [[10, 1000]]).rate).toBe('30000/1001');
    expect(rate(23_976, [[10, 1000]]).rate).toBe('24000/1001');
    expect(rate(90_000, [[10, 3003]]).rate).toBe('30000/1001');
  });

  test('a clock too coarse for the rate makes it stagger: the rate that explains every frame to the tick', () => {
    const staggered = (count: number, num: number, den: number, timescale: number): Runs =>
      Array.from({ length: count }, (_, frame) => {
        const at = (index: number) => Math.round((index * den * timescale) / num);
        return [1, at(frame + 1) - at(frame)] as const;
      });
    expect(rate(1000, staggered(300, 24_000, 1001, 1000))).toMatchObject({ rate: '24000/1001', variableRate: false });
    expect(rate(1000, staggered(300, 24, 1, 1000))).toMatchObject({ rate: '24/1', variableRate: false });
    expect(rate(1000, staggered(3000, 60_000, 1001, 1000))).toMatchObject({ rate: '60000/1001', variableRate: false });
    // 9 frames of 24 or of 23.976: nobody can tell.
    expect(rate(1000, staggered(9, 24, 1, 1000))).toMatchObject({ rate: null, variableRate: null });
  });

  test('a rate that varies is never taken for one of the trade', () => {
    const times: Runs = Array.from({ length: 90 }, (_, frame) => [1, frame % 3 === 0 ? 2997 : 3300] as const);
    expect(rate(90_000, times)).toMatchObject({ rate: '300/11', variableRate: true });
  });

  test('no two distances are alike: the middle one, and variable', () => {
    const times: Runs = Array.from({ length: 91 }, (_, frame) => [1, 2955 + ((frame * 37) % 91)] as const);
    expect(rate(90_000, times)).toMatchObject({ rate: '30/1', variableRate: true });
    const many: Runs = Array.from({ length: 2000 }, (_, frame) => [1, 2000 + ((frame * 919) % 2000)] as const);
    expect(rate(90_000, many).variableRate).toBe(true);
  });

  test('no clock, no distance', () => {
    expect(rate(0, [[10, 1]])).toEqual({ rate: null, variableRate: null, durationSeconds: null });
    expect(rate(25, [[10, 0]])).toMatchObject({ rate: null, variableRate: null });
  });
});

describe('tables', () => {
  const stts = atom('stts', 0, 1, 4, 1);
  const of = (...tables: Uint8Array[]) => structureOf(movie([track({ tables: [stts, ...tables] })]));

  // 8.7.3.3: compact sizes of 4, 8 and 16 bits.
  test('sizes of 4, 8 and 16 bits', () => {
    expect(picture(of(atom('stz2', 0, 4, 3, [0x12, 0x30])))).toMatchObject({ frames: 3, bytes: 6 });
    expect(picture(of(atom('stz2', 0, 8, 4, [10, 20, 30, 40])))).toMatchObject({ frames: 4, bytes: 100 });
    expect(picture(of(atom('stz2', 0, 16, 2, be16(1000), be16(24))))).toMatchObject({ frames: 2, bytes: 1024 });
    const odd = of(atom('stz2', 0, 5, 2, be16(1000)));
    expect(picture(odd)).toMatchObject({ frames: null, bytes: null });
    expect(odd.troubles).toEqual(['table stz2 has sizes of 5 bits']);
  });

  test('a count beyond the box: neither frames nor bytes, and no loop of four thousand million', () => {
    const beyond = of(atom('stsz', 0, 0, 0xffff_fff0, 10, 20));
    expect(picture(beyond)).toMatchObject({ frames: null, bytes: null, frameRate: { num: 25, den: 1 } });
    expect(beyond.troubles).toEqual(['table stsz states 4294967280 entries and has room for 2']);
  });

  test('more media than the file has room for', () => {
    const vast = of(atom('stsz', 0, 50_000, 4));
    expect(picture(vast)).toMatchObject({ frames: 4, bytes: null });
    expect(vast.troubles[0]).toMatch(
      /^a track states more media data than the file has room for: 200,000 bytes of 100,/,
    );
    expect(picture(of(atom('stsz', 0, 1, 0xffff_ffff)))).toMatchObject({ frames: null, bytes: null });
  });

  test('times and sizes that disagree: the length is what the media header states', () => {
    const torn = structureOf(movie([track({ ticks: 50, tables: [stts, atom('stsz', 0, 10, 100)] })]));
    expect(picture(torn)).toMatchObject({ frames: 100, durationSeconds: 2 });
    expect(torn.troubles).toEqual(['a track has times for 4 samples and sizes for 100']);
  });

  test('no tables at all; a length that is not known (8.4.2: all ones)', () => {
    expect(picture(structureOf(movie([track({ ticks: 50, tables: [] })])))).toMatchObject({
      frames: null,
      bytes: null,
      durationSeconds: 2,
    });
    expect(picture(structureOf(movie([track({ ticks: -1, tables: [] })]))).durationSeconds).toBeNull();
  });

  test('media in another file: said, and its figures kept', () => {
    const elsewhere = structureOf(
      movie([track({ outside: true, sizes: { count: 1000, each: 100_000 }, times: [[1000, 1]] })]),
    );
    expect(picture(elsewhere)).toMatchObject({ frames: 1000, bytes: 100_000_000 });
    expect(elsewhere.troubles).toEqual(['the media data of a track lie in another file']);
  });
});
