import { describe, expect, test } from 'vitest';
import { ascii, be32, clip } from './media.ts';
import { be16, join, key, klv, label, mxf, type Property, primer, ratio, set } from './mxf-build.ts';
import { labelOf, pictureOf, structureOf } from './mxf-files.ts';
import { constant, frames, take, takeFile } from './mxf-take.ts';

describe('fixture clips', () => {
  test('DNxHR LB: 4 frames of 81,920 bytes (SMPTE ST 2019-1), two mono tracks', () => {
    expect(structureOf(clip('B001C001_270211.mxf'))).toEqual({
      container: 'MXF OP1a',
      tracks: [
        {
          ...{ type: 'picture', codecId: '060e2b340401010a0401020271280000', width: 1280, height: 720 },
          ...{ pixelAspect: { num: 1, den: 1 }, rotation: null, frameRate: { num: 25, den: 1 }, variableRate: false },
          ...{ frames: 4, durationSeconds: 0.16, bytes: 4 * 81_920, scan: 'progressive', bitDepth: 8, chroma: '4:2:2' },
        },
        ...[1, 2].map(() => ({
          ...{ type: 'sound', codecId: '060e2b34040101010d01030102060300', channels: 1, sampleRate: 48_000 },
          ...{ bitDepth: 16, samples: 7680, durationSeconds: 0.16, bytes: 15_360 },
        })),
      ],
      timecodes: ['material-package', 'physical-package', 'file-package'].map((place) => ({
        ...{ place, frame: 922_500, rate: { num: 25, den: 1 }, drop: false, note: null },
      })),
      ...{ reel: 'B001', camera: null, createdAt: '2027-02-11T10:15:00.000' },
      // The encoder was asked for the same bytes each time and leaves the identifier empty: it ties nothing.
      ties: { materialPackage: null, scene: null, take: null, family: null, timeReference: null },
      troubles: [],
    });
  });

  test('MPEG-2 long GOP: bytes are not known without reading it all', () => {
    const structure = structureOf(clip('C0001.MXF'));
    expect(pictureOf(structure)).toMatchObject({
      width: 1920,
      height: 1080,
      frames: 12,
      scan: 'interlaced',
      bytes: null,
    });
    expect(labelOf(structure.timecodes[0])).toBe('16:20:00:12');
    expect(structure).toMatchObject({ reel: 'X0107', troubles: [] });
  });
});

describe('operational pattern (ST 377-1 clause 7.4, ST 390)', () => {
  test.each([
    ['0d010201 01010900', 'MXF OP1a'],
    ['0d010201 01020900', 'MXF OP1b'],
    ['0d010201 03030000', 'MXF OP3c'],
    ['0d010201 10030000', 'MXF OP-Atom'],
    ['0d010201 7f090000', 'MXF'],
  ])('%s is %s', (rest, name) => {
    // Without a label in the preface that of the partition counts.
    const metadata = join(primer(), set(0x2f, 1), set(0x37, 2));
    expect(structureOf(mxf({ metadata, pattern: label(rest) })).container).toBe(name);
  });
});

describe('raster (ST 377-1 annex G.2)', () => {
  const raster = (...descriptor: Property[]) => {
    const { width, height, pixelAspect, scan } = pictureOf(structureOf(takeFile({ descriptor })));
    return [width, height, pixelAspect === null ? null : `${pixelAspect.num}:${pixelAspect.den}`, scan];
  };
  const layout = (value: number): Property => [0x320c, [value]];
  const lines = (value: number): Property => [0x3202, be32(value)];

  test('display before sampled before stored', () => {
    expect(raster([0x3208, be32(1080)], [0x3204, be32(1084)], lines(1088))).toEqual([1920, 1080, null, null]);
    expect(raster([0x3204, be32(1084)], lines(1088))).toEqual([1920, 1084, null, null]);
    expect(raster([0x3209, be32(0)], [0x3205, be32(1440)], lines(1088))).toEqual([1440, 1088, null, null]);
  });

  // mediainfo 23.04 doubles for 1 and 4 as well, and not for 3.
  test('frame layout: heights of fields, and scan', () => {
    expect(raster(layout(0))).toEqual([1920, 1080, null, 'progressive']);
    expect(raster(layout(1), lines(540))).toEqual([1920, 1080, null, 'interlaced']);
    expect(raster(layout(3))).toEqual([1920, 1080, null, 'interlaced']);
    expect(raster(layout(4), lines(540))).toEqual([1920, 1080, null, 'progressive']);
    expect(raster(layout(2), lines(540))).toEqual([1920, null, null, null]);
    expect(raster(layout(9))).toEqual([1920, 1080, null, null]);
  });

  test('the aspect ratio is that of the picture', () => {
    const wide: Property = [0x320e, ratio(16, 9)];
    expect(raster(wide)).toEqual([1920, 1080, '1:1', null]);
    expect(raster(wide, [0x3203, be32(1440)])).toEqual([1440, 1080, '4:3', null]);
    expect(raster([0x320e, ratio(16, 0)])[2]).toBeNull();
  });

  // SMPTE ST 356: 608 and 512 lines are stored, 576 and 486 shown.
  test('D-10 is shown without its blanking', () => {
    const d10: Property = [0x3004, label('0d010301 02010101')];
    const sd: Property[] = [[0x3203, be32(720)], [0x320e, ratio(4, 3)], d10, layout(1)];
    expect(raster(lines(304), ...sd)).toEqual([720, 576, '16:15', 'interlaced']);
    expect(raster(lines(256), ...sd)).toEqual([720, 486, '9:10', 'interlaced']);
  });

  // SMPTE ST 370: 1280, 1440 and 960 samples a line are stored.
  test.each([
    ['0500', 1280],
    ['0600', 1440],
    ['0700', 960],
    ['0800', 960],
  ])('DV100 %s stores %i pixels a line', (variant, width) => {
    expect(raster([0x3201, label(`04010202 0202${variant}`)])[0]).toBe(width);
  });

  test('sizes that no picture has', () => {
    expect(raster([0x3203, be32(4_000_000_000)])[0]).toBeNull();
    expect(raster([0x3203, be16(1280)])[0]).toBe(1280);
    expect(raster([0x3203, [1, 2, 3]])[0]).toBeNull();
  });
});

describe('samples', () => {
  const picture = (...descriptor: Property[]) => pictureOf(structureOf(takeFile({ descriptor })));
  test.each([
    [1, 1, '4:4:4'],
    [2, 1, '4:2:2'],
    [2, 2, '4:2:0'],
    [4, 1, '4:1:1'],
    [3, 1, null],
  ])('%i across and %i down is %s', (across, down, chroma) => {
    expect(picture([0x3302, be32(across)], [0x3308, be32(down)]).chroma).toBe(chroma);
  });

  test('not told is not known', () => {
    expect(picture([0x3302, be32(2)])).toMatchObject({ chroma: null, bitDepth: null });
  });

  test('depth of components, and of RGB in its pixel layout', () => {
    expect(picture([0x3301, be32(10)]).bitDepth).toBe(10);
    expect(picture([0x3301, be32(0)]).bitDepth).toBeNull();
    const rgb = (...depths: number[]) => [...depths.flatMap((depth, at) => [0x52 + at, depth]), ...Array(8).fill(0)];
    expect(picture([0x3401, rgb(12, 12, 12)]).bitDepth).toBe(12);
    expect(picture([0x3401, rgb(10, 10, 2)]).bitDepth).toBeNull();
  });

  test('coding label, or the container where there is none', () => {
    expect(picture().codecId).toBe('060e2b340401010a0401020201030300');
    expect(picture([0x3201, Array(16).fill(0)]).codecId).toBe('060e2b340401010a0d01030102046001');
  });
});

describe('rate and length', () => {
  test.each([
    [[24000, 1001], '24000/1001'],
    [[30000, 1001], '30000/1001'],
    [[2997, 100], '30000/1001'],
    [[50, 1], '50/1'],
    [[50000, 1000], '50/1'],
  ] as [[number, number], string][])('%j is %s', (rate, wanted) => {
    const { frameRate, durationSeconds, frames } = pictureOf(structureOf(takeFile({ rate })));
    expect(`${frameRate?.num}/${frameRate?.den}`).toBe(wanted);
    expect(frames).toBe(4);
    expect(durationSeconds).toBeCloseTo((4 * (frameRate?.den ?? 0)) / (frameRate?.num ?? 1), 12);
  });

  test('fields stored one by one are not frames', () => {
    const fields = (rate: [number, number], layout: number) => {
      const { frameRate, frames, bytes } = pictureOf(structureOf(takeFile({ rate, descriptor: [[0x320c, [layout]]] })));
      return [frameRate, frames, bytes];
    };
    expect(fields([50, 1], 1)).toEqual([{ num: 25, den: 1 }, 2, 4000]);
    expect(fields([60000, 1001], 1)).toEqual([{ num: 30000, den: 1001 }, 2, 4000]);
    expect(fields([25, 1], 1)).toEqual([{ num: 25, den: 1 }, 4, 4000]);
    expect(fields([50, 1], 0)).toEqual([{ num: 50, den: 1 }, 4, 4000]);
  });

  test('a rate of nothing', () => {
    expect(pictureOf(structureOf(takeFile({ rate: [0, 1], sampleRate: [25, 0] })))).toMatchObject({
      ...{ frameRate: null, variableRate: null, frames: 4, durationSeconds: null },
    });
  });

  test('the track is found without its id, and by it among others', () => {
    expect(pictureOf(structureOf(takeFile({ linked: false, file: { start: 1 } }))).frames).toBe(4);
  });
});

describe('the way it is written', () => {
  test('behind a run-in', () => {
    const shifted = structureOf(mxf({ metadata: take(), index: constant, essence: frames(4), runIn: 5000 }));
    expect(pictureOf(shifted)).toMatchObject({ frames: 4, bytes: 4000 });
  });

  test('on a grid', () => {
    const structure = structureOf(mxf({ metadata: take(), index: constant, essence: frames(4), grid: 512 }));
    expect(pictureOf(structure)).toMatchObject({ frames: 4, width: 1920 });
    expect(structure.troubles).toEqual([]);
  });

  // ST 377-1 clause 9.2: tags from 8000h on mean what the primer says.
  test('a tag of the writer\u2019s own', () => {
    const aspect: [number, number[]] = [0x8123, key('060e2b34 01010101 04010101 01000000')];
    const descriptor: Property[] = [[0x8123, ratio(4, 3)]];
    const aspectOf = (...entries: [number, number[]][]) =>
      pictureOf(structureOf(takeFile({ descriptor, primer: primer(...entries) }))).pixelAspect;
    expect(aspectOf(aspect)).toEqual({ num: 3, den: 4 });
    expect(aspectOf()).toBeNull();
    expect(aspectOf([0x8124, aspect[1]])).toBeNull();
  });

  test('sets that nobody knows are passed over', () => {
    const dark = join(klv(key('060e2b34 02530101 0f0f0f0f 01010100'), ascii('dark')), set(0x7f, 77, [0x9999, [1]]));
    expect(structureOf(takeFile({ more: [dark] }))).toMatchObject({ troubles: [], reel: null });
  });

  test('essence that the file does not list as its own is elsewhere', () => {
    const elsewhere = structureOf(takeFile({ essenceOf: 99 }));
    expect(elsewhere).toMatchObject({
      ...{ tracks: [], troubles: ['no package of the metadata has its essence in this file'] },
    });
  });

  test('a header that is not there', () => {
    expect(structureOf(new Uint8Array(5000))).toMatchObject({
      ...{ container: 'MXF', tracks: [], troubles: ['the header partition is cut off'] },
    });
    expect(structureOf(mxf({}))).toMatchObject({ troubles: ['there are no readable header metadata'] });
  });
});
