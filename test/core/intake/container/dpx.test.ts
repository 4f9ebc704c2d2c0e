import { describe, expect, test } from 'vitest';
import { formatTimecode, fromFrameNumber } from '../../../../src/core/intake/timecode.ts';
import { type Dpx, dpx } from './dpx-files.ts';
import { clips } from './media.ts';
import { look, pictureOf } from './riff-files.ts';

const told = (fields: Dpx) => look(dpx(fields), 'a.dpx').structure;
const orders = [{ bigEndian: true }, { bigEndian: false }];

describe('the fixtures', () => {
  test('every frame', () => {
    const frames = clips('dpx');
    expect(frames).toHaveLength(24);
    for (const { bytes, name } of frames) {
      const { structure, finding, reads } = look(bytes, name);
      expect(finding.verdict).toBe('whole');
      expect(structure).toEqual({
        container: 'DPX',
        tracks: [
          {
            type: 'picture',
            codecId: null,
            width: 64,
            height: 36,
            pixelAspect: { num: 1, den: 1 },
            rotation: 0,
            frameRate: null,
            variableRate: null,
            frames: 1,
            durationSeconds: null,
            // Three components of 10 bits in four bytes (ST 268-1, packing method A).
            bytes: 64 * 36 * 4,
            scan: null,
            bitDepth: 10,
            chroma: null,
          },
        ],
        timecodes: [],
        reel: null,
        camera: null,
        createdAt: null,
        ties: { materialPackage: null, scene: null, take: null, family: null, timeReference: null },
        troubles: [],
      });
      expect(reads).toBe(1);
    }
  });
});

describe('headers (SMPTE ST 268-1)', () => {
  test.each(orders)('nothing set but the picture: %j', (order) => {
    const structure = told(order);
    expect(pictureOf(structure)).toMatchObject({
      width: 64,
      height: 36,
      bitDepth: 10,
      bytes: 9216,
      pixelAspect: null,
      rotation: 0,
      frameRate: null,
      scan: null,
      durationSeconds: null,
    });
    expect(structure).toMatchObject({ timecodes: [], createdAt: null, troubles: [] });
  });

  test.each(orders)('everything set: %j', (order) => {
    const structure = told({
      ...order,
      date: '2027:03:03:10:16:30:UTC',
      aspect: [4, 3],
      filmRate: 24,
      televisionRate: 24,
      timecode: 0x10163005,
      interlace: 0,
    });
    expect(pictureOf(structure)).toMatchObject({
      pixelAspect: { num: 4, den: 3 },
      frameRate: { num: 24, den: 1 },
      scan: 'progressive',
      durationSeconds: 1 / 24,
    });
    expect(structure).toMatchObject({ createdAt: '2027-03-03T10:16:30Z', troubles: [] });
    // ((10 x 60 + 16) x 60 + 30) x 24 + 5.
    expect(structure.timecodes).toEqual([
      { place: 'frame-header', frame: 887_765, rate: { num: 24, den: 1 }, drop: false, note: null },
    ]);
  });

  test.each([
    [24, { num: 24, den: 1 }],
    [25, { num: 25, den: 1 }],
    [23.976, { num: 24_000, den: 1001 }],
    [24_000 / 1001, { num: 24_000, den: 1001 }],
    [29.97, { num: 30_000, den: 1001 }],
    [48, { num: 48, den: 1 }],
    [0, null],
    [Number.NaN, null],
    [Number.POSITIVE_INFINITY, null],
    [-24, null],
    [1e-20, null],
    [3e7, null],
  ])('a rate of %d', (rate, frameRate) => {
    expect(pictureOf(told({ filmRate: rate })).frameRate).toEqual(frameRate);
    expect(pictureOf(told({ televisionRate: rate, bigEndian: true })).frameRate).toEqual(frameRate);
  });

  test('film and television rates that differ', () => {
    const structure = told({ filmRate: 24, televisionRate: 25 });
    expect(pictureOf(structure).frameRate).toBeNull();
    expect(structure.troubles).toEqual(['the film and the television header give different frame rates']);
    expect(pictureOf(told({ filmRate: 23.976, televisionRate: 24_000 / 1001 })).frameRate).toEqual({
      num: 24_000,
      den: 1001,
    });
  });

  test.each([
    ['2027:03:03:10:16:30:UTC', '2027-03-03T10:16:30Z'],
    ['2027:03:03:10:16:30:Z', '2027-03-03T10:16:30Z'],
    ['2027:03:03:10:16:30+0100', '2027-03-03T10:16:30+01:00'],
    ['2027:03:03:10:16:30:CET', '2027-03-03T10:16:30'],
    ['2027:03:03:10:16:30', '2027-03-03T10:16:30'],
    ['2027:03:03:10:16:30:', '2027-03-03T10:16:30'],
    ['1970:01:01:00:00:00:UTC', null],
    ['0000:00:00:00:00:00', null],
    ['2027:02:30:10:16:30', null],
    ['2027:03:03:25:16:30', null],
    ['Wed Mar  3 2027', null],
    ['\xff'.repeat(24), null],
  ])('made at %j', (date, createdAt) => {
    expect(told({ date }).createdAt).toBe(createdAt);
  });

  test('shape, turn and sampling', () => {
    const of = (fields: Dpx) => pictureOf(told(fields));
    for (const aspect of [
      [0, 0],
      [1, 0],
      [0xffff_ffff, 1],
      [9, 2],
      [2, 9],
    ] as const)
      expect(of({ aspect }).pixelAspect).toBeNull();
    expect(of({ aspect: [2000, 1000] }).pixelAspect).toEqual({ num: 2, den: 1 });
    // Table 2: 3 is right to left and bottom to top; 1 and 2 are mirror images.
    expect([0, 1, 2, 3, 4, 0xffff].map((orientation) => of({ orientation }).rotation)).toEqual([
      0,
      null,
      null,
      180,
      null,
      null,
    ]);
    expect([50, 6, 100, 102].map((descriptor) => of({ descriptor }).chroma)).toEqual([null, null, '4:2:2', '4:4:4']);
    expect([8, 10, 12, 16, 0, 255, 9].map((depth) => of({ depth }).bitDepth)).toEqual([
      8,
      10,
      12,
      16,
      null,
      null,
      null,
    ]);
    expect(of({ televisionRate: 25, interlace: 1 }).scan).toBe('interlaced');
    expect(of({ interlace: 1 }).scan).toBeNull();
  });

  test('no raster', () => {
    for (const width of [0, 0xffff_ffff, 100_000]) {
      const structure = told({ width });
      expect(pictureOf(structure).width).toBeNull();
      expect(structure.troubles).toEqual(['the header gives no raster']);
    }
  });
});

describe('timecode of the television header', () => {
  const labelled = (fields: Dpx) =>
    told(fields).timecodes.map(({ frame, rate, drop }) => {
      const label = fromFrameNumber(frame, rate, drop);
      return label === null ? null : formatTimecode(label);
    });

  // Two decimal digits a byte; SMPTE ST 12-1 keeps flags beside the tens, drop-frame beside those of the frames.
  test.each([
    [0x00000000, 24, '00:00:00:00'],
    [0x01000000, 25, '01:00:00:00'],
    [0x23595924, 25, '23:59:59:24'],
    [0x10163005 + 0xc0808080, 25, '10:16:30:05'],
    [0x01000042, 29.97, '01:00:00;02'],
    [0x01000002, 29.97, '01:00:00:02'],
    [0x01000042, 25, '01:00:00:02'],
  ])('%i at %d: %s', (timecode, televisionRate, label) => {
    expect(labelled({ timecode, televisionRate })).toEqual([label]);
  });

  test('at a rate with drop-frame, a label without the flag is marked', () => {
    expect(told({ timecode: 0x01000002, televisionRate: 29.97 }).timecodes[0]?.note).toBe(
      'told without the drop-frame flag',
    );
  });

  test('counted at the film rate; zeros are then unset', () => {
    expect(labelled({ timecode: 0x01000000, filmRate: 24 })).toEqual(['01:00:00:00']);
    expect(told({ timecode: 0, filmRate: 24 })).toMatchObject({ timecodes: [], troubles: [] });
    expect(told({ timecode: 0xffff_ffff, televisionRate: 24 })).toMatchObject({ timecodes: [], troubles: [] });
  });

  test.each([
    [{ timecode: 0x01000000 }, 'a timecode without a frame rate'],
    [{ timecode: 0x24000000, televisionRate: 24 }, 'the timecode in the header is none'],
    [{ timecode: 0x01600000, televisionRate: 24 }, 'the timecode in the header is none'],
    [{ timecode: 0x01000a00, televisionRate: 24 }, 'the timecode in the header is none'],
    [{ timecode: 0x01000024, televisionRate: 24 }, 'the timecode in the header is none'],
    [{ timecode: 0x01010040, televisionRate: 29.97 }, 'the timecode in the header is none'],
  ])('%j', (fields, words) => {
    expect(told(fields)).toMatchObject({ timecodes: [], troubles: [words] });
  });
});

describe('a picture that begins early', () => {
  // What is no header there is picture.
  test('at byte 1664: no film and no television header', () => {
    const bytes = dpx({ filmRate: 24, televisionRate: 24, timecode: 0x01000000, aspect: [1, 1] });
    new DataView(bytes.buffer).setUint32(4, 1664, true);
    const { structure } = look(bytes, 'a.dpx');
    expect(structure).toMatchObject({ timecodes: [], troubles: [] });
    expect(pictureOf(structure)).toMatchObject({
      frameRate: null,
      scan: null,
      pixelAspect: { num: 1, den: 1 },
      bytes: 384 + 9216,
    });
  });

  test('at byte 1920: the film header alone', () => {
    const bytes = dpx({ filmRate: 24, televisionRate: 25, timecode: 0x01000000 });
    new DataView(bytes.buffer).setUint32(4, 1920, true);
    expect(pictureOf(look(bytes, 'a.dpx').structure)).toMatchObject({
      frameRate: { num: 24, den: 1 },
      bytes: 128 + 9216,
    });
  });

  test('inside the television header: none of it counts', () => {
    const bytes = dpx({ filmRate: 24, televisionRate: 25, timecode: 0x01000000, interlace: 1 });
    new DataView(bytes.buffer).setUint32(4, 1944, true);
    const { structure } = look(bytes, 'a.dpx');
    expect(structure).toMatchObject({ timecodes: [], troubles: [] });
    expect(pictureOf(structure)).toMatchObject({ frameRate: { num: 24, den: 1 }, scan: null });
  });

  test('room for the user between headers and picture', () => {
    expect(pictureOf(told({ image: 8192, televisionRate: 25 }))).toMatchObject({
      bytes: 9216,
      frameRate: { num: 25, den: 1 },
    });
  });

  test('nowhere', () => {
    for (const image of [0, 100, 0xffff_ffff]) {
      const bytes = dpx();
      new DataView(bytes.buffer).setUint32(4, image, true);
      const { structure } = look(bytes, 'a.dpx');
      expect(pictureOf(structure)).toMatchObject({ width: 64, height: 36, bytes: null });
      expect(structure.troubles).toEqual(['the header does not tell where the picture begins']);
    }
  });
});

describe('what is not all there', () => {
  test('cut at every byte', () => {
    const whole = dpx({ televisionRate: 25, timecode: 0x01000000 });
    for (let length = 4; length < whole.length; length += 1) {
      const { structure } = look(whole.subarray(0, length), 'a.dpx');
      expect([length, pictureOf(structure).bytes]).toEqual([length, null]);
      expect(structure.troubles).not.toEqual([]);
    }
  });

  test('a length that is not stated', () => {
    for (const stated of [0, 0xffff_ffff]) expect(pictureOf(told({ stated })).bytes).toBe(9216);
  });
});
