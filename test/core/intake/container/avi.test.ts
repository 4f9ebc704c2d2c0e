import { describe, expect, test } from 'vitest';
import { avi, bitmap, oldIndex, properties, streamHeader } from './avi-files.ts';
import { ascii, clip, join, le32 } from './media.ts';
import { chunk, le16, list, look, pictureOf, riff, soundOf, structureOf } from './riff-files.ts';
import { format } from './wave-files.ts';

const picture = [streamHeader({}), bitmap(320, 180)];
/** The content of `fmt ` is that of `strf`. */
const soundFormat = (pcm: Parameters<typeof format>[0]) => chunk('strf', format(pcm).subarray(8));
const sound = [
  streamHeader({ type: 'auds', handler: '\0\0\0\0', scale: 4, rate: 192_000, length: 96_000, unitBytes: 4 }),
  soundFormat({ bits: 16 }),
];

describe('the fixture', () => {
  test('tape07_scene13.avi', () => {
    const { structure, finding, reads, bytes } = look(clip('tape07_scene13.avi'), 'a.avi');
    expect(finding).toEqual({ verdict: 'no-structure', detail: null });
    expect(structure).toMatchObject({ container: 'AVI', timecodes: [], createdAt: null, camera: null, troubles: [] });
    expect(pictureOf(structure)).toEqual({
      type: 'picture',
      codecId: 'dvsd',
      width: 720,
      height: 576,
      // 4:3 over 720x576.
      pixelAspect: { num: 16, den: 15 },
      rotation: null,
      frameRate: { num: 25, den: 1 },
      variableRate: false,
      frames: 2,
      durationSeconds: 0.08,
      // IEC 61834: 144,000 bytes a frame of 625/50.
      bytes: 288_000,
      scan: null,
      bitDepth: null,
      chroma: null,
    });
    expect(soundOf(structure)).toMatchObject({
      codecId: '0x0001',
      channels: 2,
      bitDepth: 16,
      samples: 3840,
      bytes: 15_360,
    });
    expect([reads, bytes <= 40_000]).toEqual([2, true]);
  });
});

describe('streams', () => {
  test('picture and sound, in the order of the file', () => {
    const { tracks, troubles } = structureOf(avi({ streams: [sound, picture] }));
    expect(tracks.map(({ type }) => type)).toEqual(['sound', 'picture']);
    expect(tracks[0]).toEqual({
      type: 'sound',
      codecId: '0x0001',
      channels: 2,
      sampleRate: 48_000,
      bitDepth: 16,
      samples: 96_000,
      durationSeconds: 2,
      bytes: 384_000,
    });
    expect(tracks[1]).toMatchObject({
      codecId: 'MJPG',
      width: 320,
      height: 180,
      frames: 50,
      durationSeconds: 2,
      bytes: null,
    });
    expect(troubles).toEqual([]);
  });

  // SMPTE ST 12-1: 29.97 is 30000/1001; headers also give it in microseconds of a frame or in hundredths.
  test.each([
    [1, 25, { num: 25, den: 1 }],
    [1001, 30_000, { num: 30_000, den: 1001 }],
    [1001, 24_000, { num: 24_000, den: 1001 }],
    [2002, 60_000, { num: 30_000, den: 1001 }],
    [100, 2997, { num: 30_000, den: 1001 }],
    [33_367, 1_000_000, { num: 30_000, den: 1001 }],
    [40_000, 1_000_000, { num: 25, den: 1 }],
    [2, 25, { num: 25, den: 2 }],
  ])('scale %i, rate %i', (scale, rate, frameRate) => {
    const { frameRate: told, durationSeconds } = pictureOf(
      structureOf(avi({ streams: [[streamHeader({ scale, rate, length: 100 }), bitmap(320, 180)]] })),
    );
    expect(told).toEqual(frameRate);
    expect(durationSeconds).toBeCloseTo((100 * scale) / rate, 3);
  });

  test('no rate, no length, no format, no streams', () => {
    const file = avi({ streams: [[streamHeader({ scale: 0, length: 0 })]] });
    expect(pictureOf(structureOf(file))).toMatchObject({
      frameRate: null,
      variableRate: null,
      frames: null,
      durationSeconds: null,
    });
    expect(structureOf(file).troubles).toEqual([
      'the format of the picture is missing or cut off',
      'the stream header gives no frame rate',
      'the number of frames is not written',
    ]);
    expect(structureOf(avi({ streams: [] })).troubles).toEqual(['there is no stream header inside']);
    const mute = structureOf(avi({ streams: [[streamHeader({ type: 'auds' })]] }));
    expect(mute).toMatchObject({ tracks: [{ codecId: null, channels: null, samples: null }] });
    expect(mute.troubles).toEqual(['the format of the sound is missing or cut off']);
  });

  test('top-down and bottom-up RGB, depth of it alone', () => {
    const of = (strf: Uint8Array) =>
      pictureOf(structureOf(avi({ streams: [[streamHeader({ handler: 'DIB ' }), strf]] })));
    expect(of(bitmap(64, -48 >>> 0, 0, 24))).toMatchObject({ codecId: '0x00000000', height: 48, bitDepth: 8 });
    expect(of(bitmap(64, 48, 0, 32))).toMatchObject({ bitDepth: 8 });
    expect(of(bitmap(64, 48, 0, 16))).toMatchObject({ bitDepth: null });
    expect(of(bitmap(64, 48, 3, 32))).toMatchObject({ codecId: '0x00000003', bitDepth: null });
    expect(of(bitmap(64, 48, 'UYVY', 16))).toMatchObject({ codecId: 'UYVY', bitDepth: null });
    expect(of(bitmap(0, 0x8000_0000))).toMatchObject({ width: null, height: null });
  });

  test('video properties: shape of a sample, interlace; one field a frame says nothing', () => {
    const of = (vprp: Uint8Array) =>
      pictureOf(structureOf(avi({ streams: [[streamHeader({}), bitmap(720, 576), vprp]] })));
    expect(of(properties([16, 9], 720, 576, 2))).toMatchObject({
      pixelAspect: { num: 64, den: 45 },
      scan: 'interlaced',
    });
    expect(of(properties([4, 3], 720, 576, 1))).toMatchObject({ pixelAspect: { num: 16, den: 15 }, scan: null });
    expect(of(properties([0, 0], 720, 576, 0))).toMatchObject({ pixelAspect: null, scan: null });
    // The shape of another raster.
    expect(of(properties([4, 3], 704, 576, 2)).pixelAspect).toBeNull();
    expect(of(properties([4, 3], 720, 288, 2)).pixelAspect).toBeNull();
  });

  // `iavs`: DVINFO of eight 32-bit numbers; the fourth byte of the first is the last of the AAUX source pack, whose bits 3
  // to 5 are the sampling rate (IEC 61834-4: 0 is 48 kHz, 2 is 32 kHz).
  test('DV with its sound inside (type 1)', () => {
    const header = streamHeader({ type: 'iavs', handler: 'dvsd', length: 2 });
    const file = (source: number[]) =>
      avi({
        raster: [720, 576],
        streams: [[header, chunk('strf', join(source, new Uint8Array(28)))]],
        movie: chunk('00__', new Uint8Array(100)),
        behind: [
          oldIndex([
            ['00__', 144_000],
            ['00__', 144_000],
          ]),
        ],
      });
    const { tracks, troubles } = structureOf(join(file([0xcf, 0x30, 0xa0, 0xd0]), new Uint8Array(0)));
    expect(tracks.map(({ type }) => type)).toEqual(['picture', 'sound']);
    expect(tracks[0]).toMatchObject({ codecId: 'dvsd', width: 720, height: 576, frames: 2, bytes: null });
    expect(tracks[1]).toMatchObject({ codecId: null, channels: null, sampleRate: 32_000 });
    // Such a small file cannot hold what its index lists.
    expect(troubles).toEqual(['the index lists more bytes than there are']);
    expect(structureOf(file([0xff, 0xff, 0xff, 0xff])).tracks).toHaveLength(1);
    expect(soundOf(structureOf(file([0xcf, 0x30, 0xa0, 0xc0]))).sampleRate).toBe(48_000);
  });

  test('other streams; sound that is no PCM', () => {
    const text = [streamHeader({ type: 'txts' })];
    const mp3 = [
      streamHeader({ type: 'auds', scale: 1152, rate: 48_000, length: 100 }),
      soundFormat({ tag: 0x55, bits: 0, room: 1 }),
    ];
    expect(structureOf(avi({ streams: [text, mp3] })).tracks).toMatchObject([
      { type: 'other', codecId: 'txts' },
      { type: 'sound', codecId: '0x0055', bitDepth: null, samples: null, bytes: null, durationSeconds: 2.4 },
    ]);
  });
});

describe('what is not all there', () => {
  test('cut anywhere: no length is told', () => {
    const whole = avi({
      streams: [picture, sound],
      movie: chunk('00dc', new Uint8Array(700)),
      behind: [oldIndex([['00dc', 700]])],
    });
    for (let length = 12; length < whole.length - 1; length += 1) {
      const { structure, finding } = look(whole.subarray(0, length), 'a.avi');
      expect([length, finding.verdict]).toEqual([length, 'cut']);
      expect(structure.troubles).not.toEqual([]);
      for (const track of structure.tracks) {
        if (track.type === 'other') continue;
        expect([length, track.durationSeconds, track.bytes]).toEqual([length, null, null]);
      }
    }
  });

  test('a capture that broke off: sizes of the form and of the picture are not written', () => {
    const file = avi({ streams: [picture] });
    for (const open of [0, 0xffff_ffff]) {
      file.set(le32(open), 4);
      file.set(le32(open), file.length - 4 - 12 - 4);
      const { structure, finding } = look(file, 'a.avi');
      expect(finding.verdict).toBe('cut');
      expect(pictureOf(structure)).toMatchObject({ codecId: 'MJPG', width: 320, frames: null, durationSeconds: null });
      expect(structure.troubles).toEqual(['the sizes in the header are not written']);
    }
  });

  test('the form has its size, the list of pictures none', () => {
    const file = avi({ streams: [picture] });
    file.set(le32(0), file.length - 4 - 12 - 4);
    expect(structureOf(file).troubles).toEqual(['the length of a list is not written, or more than there is']);
  });

  test('empty padding is passed', () => {
    const file = riff(
      'AVI ',
      chunk('JUNK', []),
      list('hdrl', list('strl', ...picture)),
      list('movi', chunk('00dc', le16(1))),
    );
    expect(structureOf(file)).toMatchObject({ tracks: [{ width: 320 }], troubles: [] });
  });

  test('a form of another kind', () => {
    expect(structureOf(riff('ACON', chunk('anih', ascii('some'))))).toMatchObject({
      container: 'RIFF',
      tracks: [],
      troubles: ['a RIFF file of a form that is not read'],
    });
  });
});
