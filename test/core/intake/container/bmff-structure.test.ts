import { describe, expect, test } from 'vitest';
import type { PictureTrack, Structure } from '../../../../src/core/intake/container/structure.ts';
import { atom, be16, bytes, MATRICES, movie, pictureEntry, structureOf, track } from './bmff-build.ts';

/** Values are those of the clauses named; ISO/IEC 14496-12 where none is, QTFF for the QuickTime File Format. */

const zeros = (length: number) => new Uint8Array(length);

function picture(structure: Structure): PictureTrack {
  const found = structure.tracks.find((one) => one.type === 'picture');
  if (found === undefined) throw new Error('no picture track');
  return found;
}

describe('picture', () => {
  const of = (spec: Parameters<typeof track>[0]) => picture(structureOf(movie([track(spec)])));

  test('all that the index tells of a plain track', () => {
    const entry = pictureEntry('apch', 1920, 1080, atom('pasp', 4, 3), atom('fiel', [1, 0]));
    const timing = { timescale: 30_000, times: [[90, 1001]] as const, sizes: { count: 90, each: 1000 } };
    expect(structureOf(movie([track({ entry, ...timing })]))).toEqual({
      container: 'QuickTime',
      tracks: [
        {
          type: 'picture',
          codecId: 'apch',
          width: 1920,
          height: 1080,
          pixelAspect: { num: 4, den: 3 },
          rotation: 0,
          frameRate: { num: 30_000, den: 1001 },
          variableRate: false,
          frames: 90,
          durationSeconds: 3.003,
          bytes: 90_000,
          scan: 'progressive',
          bitDepth: null,
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
  });

  test('brand: QuickTime, none at all, any other', () => {
    expect(structureOf(movie([track()], { brand: null })).container).toBe('QuickTime');
    expect(structureOf(movie([track()], { brand: 'isom' })).container).toBe('MP4');
  });

  test.each([0, 90, 180, 270] as const)('turned by %d degrees (8.3.2), also by the movie header (8.2.2)', (turn) => {
    expect(of({ matrix: MATRICES[turn] }).rotation).toBe(turn);
    expect(picture(structureOf(movie([track()], { matrix: MATRICES[turn] }))).rotation).toBe(turn);
    const both = movie([track({ matrix: MATRICES[turn] })], { matrix: MATRICES[90] });
    expect(picture(structureOf(both)).rotation).toBe((turn + 90) % 360);
  });

  test('a scaled picture is not turned; a mirrored or slanted one is turned in no way that is told', () => {
    const one = 0x1_0000;
    expect(of({ matrix: [2 * one, 0, 0, 0, one, 0, 0, 0, 0x4000_0000] }).rotation).toBe(0);
    expect(of({ matrix: [-one, 0, 0, 0, one, 0, 0, 0, 0x4000_0000] }).rotation).toBeNull();
    expect(of({ matrix: [one, one, 0, -one, one, 0, 0, 0, 0x4000_0000] }).rotation).toBeNull();
    expect(of({ matrix: [0, 0, 0, 0, 0, 0, 0, 0, 0] }).rotation).toBe(0);
  });

  // SMPTE ST 356: 608 lines stored for 576, 512 for 486. Of another codec the lines are what they are.
  test('D-10 shows fewer lines than it stores', () => {
    expect(of({ entry: pictureEntry('mx5p', 720, 608) })).toMatchObject({ width: 720, height: 576 });
    expect(of({ entry: pictureEntry('mx3n', 720, 512) })).toMatchObject({ width: 720, height: 486 });
    expect(of({ entry: pictureEntry('apcn', 720, 608) }).height).toBe(608);
  });

  test('the track header gives the raster only where the description has none', () => {
    expect(of({ entry: pictureEntry('avc1', 1440, 1080), shown: [1920, 1080] })).toMatchObject({ width: 1440 });
    expect(of({ entry: pictureEntry('avc1', 0, 0), shown: [1920, 1080] })).toMatchObject({ width: 1920, height: 1080 });
    const none = structureOf(movie([track({ entry: pictureEntry('avc1', 0, 0) })]));
    expect(picture(none)).toMatchObject({ width: null, height: null });
    expect(none.troubles).toEqual(['a picture track states no raster']);
  });

  test('fields; DV is coded in fields whatever is said of it (IEC 61834)', () => {
    expect(of({ entry: pictureEntry('apcn', 1920, 1080, atom('fiel', [2, 9])) }).scan).toBe('interlaced');
    expect(of({ entry: pictureEntry('dvcp', 720, 576, atom('fiel', [1, 0])) }).scan).toBe('interlaced');
    expect(of({}).scan).toBeNull();
  });

  // QTFF, uncompressed Y'CbCr: v210 is 10 bit 4:2:2, 2vuy is 8 bit 4:2:2, v410 is 10 bit 4:4:4.
  test('depth and chroma only where the code is the format', () => {
    expect(of({ entry: pictureEntry('v210') })).toMatchObject({ bitDepth: 10, chroma: '4:2:2' });
    expect(of({ entry: pictureEntry('2vuy') })).toMatchObject({ bitDepth: 8, chroma: '4:2:2' });
    expect(of({ entry: pictureEntry('v410') })).toMatchObject({ bitDepth: 10, chroma: '4:4:4' });
    expect(of({ entry: pictureEntry('ap4h') })).toMatchObject({ bitDepth: null, chroma: null });
  });

  test('the codec under encryption (8.12), and a code that is none', () => {
    const sealed = pictureEntry('encv', 1920, 1080, atom('sinf', atom('frma', 'hvc1')));
    expect(of({ entry: sealed }).codecId).toBe('hvc1');
    expect(of({ entry: pictureEntry('\0\0\0\x01') }).codecId).toBeNull();
  });

  test('one sample is a still: no rate, no length', () => {
    expect(of({ times: [[1, 40]], sizes: [777] })).toMatchObject({
      frames: 1,
      bytes: 777,
      durationSeconds: null,
      frameRate: null,
      variableRate: null,
    });
  });

  test('a table without samples', () => {
    const empty = { times: [], sizes: [] };
    expect(of(empty)).toMatchObject({ frames: 0, bytes: 0, durationSeconds: null, frameRate: null });
  });
});

describe('what is not a clip', () => {
  // HEIF, ISO/IEC 23008-12: item 1 is a grid with an extent and a quarter turn anti-clockwise.
  test('a still without an index', () => {
    const meta = atom(
      'meta',
      0,
      atom('hdlr', 0, 0, 'pict', zeros(13)),
      atom('pitm', 0, be16(1)),
      atom('iinf', 0, be16(1), atom('infe', 0x0200_0000, be16(1), be16(0), 'hvc1', [0])),
      atom(
        'iprp',
        atom('ipco', atom('hvcC', [1]), atom('ispe', 0, 4032, 3024), atom('irot', [1])),
        atom('ipma', 0, 1, be16(1), [3, 0x81, 2, 3]),
      ),
    );
    const { container, tracks, troubles } = structureOf(bytes(atom('ftyp', 'heic', 0), meta, atom('mdat', zeros(99))));
    expect({ container, troubles }).toEqual({ container: 'MP4', troubles: [] });
    expect(tracks).toMatchObject([
      { type: 'picture', codecId: 'hvc1', width: 4032, height: 3024, rotation: 270, frames: 1, durationSeconds: null },
    ]);
  });

  test('the longer forms of its boxes; what is missing is not known', () => {
    const still = (...boxes: Uint8Array[]) =>
      structureOf(bytes(atom('ftyp', 'heic', 0), atom('meta', 0, atom('hdlr', 0, 0, 'pict', zeros(13)), ...boxes)))
        .tracks;
    const properties = atom('ipco', atom('ispe', 0, 640, 480), atom('pasp', 4, 3));
    const long = [
      atom('pitm', 0x0100_0000, 70_000),
      atom(
        'iinf',
        0x0100_0000,
        2,
        atom('infe', 0x0300_0000, 5, be16(0), 'mime'),
        atom('infe', 0x0300_0000, 70_000, be16(0), 'av01'),
      ),
      atom('iprp', properties, atom('ipma', 0x0100_0001, 2, 5, [1, 0x80, 2], 70_000, [2, 0x80, 1, 0, 2])),
    ];
    expect(still(...long)).toMatchObject([
      { codecId: 'av01', width: 640, height: 480, pixelAspect: { num: 4, den: 3 }, rotation: 0 },
    ]);
    const unknown = { type: 'picture', codecId: null, width: null, height: null, frames: 1 };
    expect(still()).toMatchObject([unknown]);
    expect(still(atom('pitm', 0, be16(3)))).toMatchObject([unknown]);
    expect(still(atom('pitm', 0, be16(3)), ...long.slice(1))).toMatchObject([unknown]);
    expect(still(atom('pitm', 0, be16(3)), atom('iprp', properties))).toMatchObject([unknown]);
    expect(structureOf(bytes(atom('ftyp', 'isom', 0), atom('meta', 0, atom('hdlr', 0, 0, 'mdir')))).tracks).toEqual([]);
  });

  test('stills of a raw camera in a movie container: one frame each', () => {
    const { tracks } = structureOf(movie([track({ entry: pictureEntry('CRAW') }), track()], { brand: 'crx ' }));
    expect(tracks).toMatchObject([{ frames: 1, durationSeconds: null, frameRate: null }, { frames: 1 }]);
  });

  test('no index; a compressed one; tracks that are neither picture nor sound', () => {
    expect(structureOf(atom('mdat', zeros(50)))).toMatchObject({
      tracks: [],
      troubles: ['there is no index (box moov)'],
    });
    const packed = structureOf(movie([atom('cmov', atom('dcom', 'zlib'), zeros(50))]));
    expect(packed).toMatchObject({
      tracks: [],
      troubles: ['the index is compressed (box cmov): it is not looked into'],
    });
    expect(structureOf(movie([track({ handler: 'meta', entry: pictureEntry('mebx') })])).tracks).toEqual([
      { type: 'other', codecId: 'mebx' },
    ]);
  });
});
