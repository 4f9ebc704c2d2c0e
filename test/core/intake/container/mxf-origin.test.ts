import { describe, expect, test } from 'vitest';
import { be32 } from './media.ts';
import { be64, join, packageId, references, set } from './mxf-build.ts';
import { labelOf, structureOf } from './mxf-files.ts';
import { type TakeOptions, takeFile } from './mxf-take.ts';

describe('timecodes', () => {
  const codes = (options: TakeOptions) => structureOf(takeFile(options)).timecodes;

  test('the material package comes first; a zero there gives way', () => {
    const tape = { name: 'TAPE07', start: 90_000, from: 0 };
    expect(codes({ material: { start: 1 }, tape }).map(({ place }) => place)).toEqual([
      'material-package',
      'physical-package',
    ]);
    const second = codes({ material: { start: 0 }, tape, file: { start: 5 } });
    expect(second.map(({ place, frame }) => [place, frame])).toEqual([
      ['physical-package', 90_000],
      ['material-package', 0],
      ['file-package', 5],
    ]);
    expect(codes({ material: { start: 0 }, file: { start: 0 } }).map(({ place }) => place)).toEqual([
      'material-package',
      'file-package',
    ]);
    expect(codes({ material: null, file: { start: 7 } }).map(({ frame }) => frame)).toEqual([7]);
  });

  test('a tape is told from where the take begins on it', () => {
    const tape = { start: 900_000, from: 250 };
    expect(labelOf(codes({ material: null, tape })[0])).toBe('10:00:10:00');
    const film: [number, number] = [48_000, 1];
    expect(codes({ material: null, rate: film, tape: { ...tape, from: 96_000, rate: [25, 1] } })[0]?.frame).toBe(
      900_050,
    );
  });

  test('counts in the base of the component', () => {
    const base = (start: number, count: number, rate: [number, number], drop = false, picture = rate) => {
      const [code] = codes({ rate: picture, material: { start, base: count, rate, drop } });
      return code === undefined ? null : [code.rate.num, code.rate.den, code.drop, code.note, labelOf(code)];
    };
    expect(base(107_892, 30, [30000, 1001], true)).toEqual([30000, 1001, true, null, '01:00:00;00']);
    expect(base(215_784, 60, [60000, 1001], true)).toEqual([60000, 1001, true, null, '01:00:00;00']);
    expect(base(90_000, 25, [50, 1])).toEqual([25, 1, false, null, '01:00:00:00']);
    expect(base(86_400, 24, [24000, 1001])).toEqual([24000, 1001, false, null, '01:00:00:00']);
    // A track in samples of sound says nothing of frames: the picture does.
    expect(base(107_892, 30, [48000, 1], true, [30000, 1001])).toEqual([30000, 1001, true, null, '01:00:00;00']);
    expect(base(107_892, 30, [48000, 1], true)).toEqual([
      ...[30000, 1001, true, 'the rate is told only as 30 a second', '01:00:00;00'],
    ]);
    expect(base(90_000, 25, [48000, 1])).toEqual([25, 1, false, 'the rate is told only as 25 a second', '01:00:00:00']);
    expect(base(90_000, 25, [25, 1], true)).toEqual([
      ...[25, 1, false, 'marked drop-frame at a rate that has none', '01:00:00:00'],
    ]);
    expect(base(0, 0, [25, 1])).toBeNull();
    expect(base(-1, 25, [25, 1])).toBeNull();
  });
});

describe('where it comes from', () => {
  test('reel: the tape, else the material; a name that only says what it is is none', () => {
    const reel = (options: TakeOptions) => structureOf(takeFile(options)).reel;
    expect(reel({ tape: { name: 'TAPE07', start: 0, from: 0 }, materialName: 'Scene 12' })).toBe('TAPE07');
    expect(reel({ materialName: 'Scene 12' })).toBe('Scene 12');
    expect(reel({ materialName: 'Material Package' })).toBeNull();
    expect(reel({ materialName: 'reel \u{1f4fc}\0rest' })).toBe('reel \u{1f4fc}');
    expect(reel({})).toBeNull();
  });

  test('created: the material package, else the stored one, never a date that nobody set', () => {
    const created = (made: number[], fileCreated?: number[]) =>
      structureOf(takeFile({ created: made, ...(fileCreated === undefined ? {} : { fileCreated }) })).createdAt;
    expect(created([7, 0xeb, 3, 4, 20, 15, 1, 125])).toBe('2027-03-04T20:15:01.500');
    expect(created(Array(8).fill(0))).toBeNull();
    expect(created([7, 0xb2, 1, 1, 0, 0, 0, 0])).toBeNull();
    expect(created([7, 0xeb, 2, 30, 0, 0, 0, 0])).toBeNull();
    expect(created([7, 0xeb, 3, 4, 24, 0, 0, 0])).toBeNull();
    expect(created([0, 0], [7, 0xeb, 3, 4, 20, 15, 1, 0])).toBe('2027-03-04T20:15:01.000');
  });

  test('the writing program is no camera', () => {
    const company = set(0x30, 40, [0x3c01, [0, 0x4c, 0, 0x4b]], [0x3c02, [0, 0x4c]]);
    expect(structureOf(takeFile({ more: [company] })).camera).toBeNull();
  });

  test('ties: the identifier of the material package', () => {
    const id = Buffer.from(packageId(10)).toString('hex');
    expect(structureOf(takeFile()).ties.materialPackage).toBe(id);
  });

  test('a chain of packages that runs in a circle ends', () => {
    const circle = join(
      set(0x0f, 312, [0x1001, references(313)]),
      set(0x11, 313, [0x1201, be64(0)], [0x1101, packageId(30)], [0x1102, be32(2)]),
    );
    const { timecodes } = structureOf(takeFile({ material: null, tape: { start: 5, from: 1 }, more: [circle] }));
    expect(timecodes.map(({ frame }) => frame)).toEqual([6]);
  });
});
