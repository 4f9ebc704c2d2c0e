import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { GroupedUnit } from '../../../src/core/intake/group.ts';
import { baseName } from '../../../src/core/intake/path-text.ts';
import { group, groupRecords, record, shape } from './take-files.ts';

interface Told {
  essence: string[];
  kind?: string;
  companions?: string[];
  sidecars?: string[];
  parts?: GroupedUnit['clips'][number]['parts'];
  separateSound?: number;
  missingParts?: { first: number; last: number }[];
  reason: string;
}

const names = (files: readonly { path: string }[]) => files.map(({ path }) => baseName(path));

/** The clips as they are told, and what belongs to none. */
function told(grouped: GroupedUnit): { clips: Required<Told>[]; loose: string[] } {
  const clips = grouped.clips.map(
    ({ essence, companions, sidecars, kind, parts, separateSound, missingParts, reason }) => ({
      ...{ essence: names(essence), kind, companions: names(companions), sidecars: names(sidecars) },
      ...{ parts, separateSound, missingParts, reason },
    }),
  );
  return { clips, loose: names(grouped.loose) };
}

const clip = (one: Told): Required<Told> => ({
  ...{ kind: 'original', companions: [], sidecars: [], parts: null, separateSound: 0, missingParts: [] },
  ...one,
});

/** In whatever order the files come, these are the clips. */
function expectClips(paths: readonly string[], clips: readonly Told[], loose: readonly string[] = []): void {
  fc.assert(
    fc.property(fc.shuffledSubarray([...paths], { minLength: paths.length }), (shuffled) => {
      const found = told(group(shuffled));
      expect(found.clips).toHaveLength(clips.length);
      expect(found.clips).toEqual(expect.arrayContaining(clips.map(clip)));
      expect(found.loose.toSorted()).toEqual([...loose].toSorted());
    }),
    { numRuns: 20 },
  );
}

const below = (folder: string, files: readonly string[]) => files.map((file) => `${folder}/${file}`);

describe('card layouts', () => {
  // XMP Toolkit SDK, P2_Handler.cpp; the maker's manuals.
  test('P2: picture, sound per channel, icon, proxy, voice and clip list are one take', () => {
    const files = [
      ...['CLIP/0001AB.XML', 'VIDEO/0001AB.MXF', 'AUDIO/0001AB00.MXF', 'AUDIO/0001AB01.MXF', 'ICON/0001AB.BMP'],
      ...['PROXY/0001AB.MP4', 'VOICE/0001AB00.WAV', 'CLIP/0002CD.XML', 'VIDEO/0002CD.MXF'],
    ];
    expectClips(
      ['LASTCLIP.TXT', ...below('CONTENTS', files)],
      [
        {
          essence: ['0001AB.MXF', '0001AB00.MXF', '0001AB01.MXF'],
          companions: ['0001AB.MP4'],
          sidecars: ['0001AB.XML', '0001AB.BMP', '0001AB00.WAV'],
          parts: 'tracks',
          separateSound: 2,
          reason: 'card-layout',
        },
        { essence: ['0002CD.MXF'], sidecars: ['0002CD.XML'], reason: 'card-layout' },
      ],
      ['LASTCLIP.TXT'],
    );
  });

  test('P2: sound without its picture is one sound clip', () => {
    expectClips(below('CONTENTS/AUDIO', ['0001AB00.MXF', '0001AB01.MXF']), [
      { essence: ['0001AB00.MXF', '0001AB01.MXF'], kind: 'sound', parts: 'tracks', reason: 'card-layout' },
    ]);
  });

  // XMP Toolkit SDK, XDCAM_Handler.cpp ("FAM"); recorders' manuals.
  test('XDCAM, clips in one folder: the small picture is no clip, nor is an edit list', () => {
    const card = [
      ...['Clip/C0001.MXF', 'Clip/C0001M01.XML', 'Clip/C0001M02.KLV', 'Clip/C0001R01.BIM', 'Sub/C0001S01.MXF'],
      ...['Clip/Office_0001.MXF', 'Sub/Office_0001S01.MXF', 'Edit/E0001E01.SMI', 'Edit/E0001M01.XML', 'Take/T0001.SMI'],
      ...['INDEX.XML', 'DISCMETA.XML', 'MEDIAPRO.XML', 'CUEUP.XML'],
    ];
    expectClips(
      below('Tidewater Sessions/Card 3', card),
      [
        {
          essence: ['C0001.MXF'],
          companions: ['C0001S01.MXF'],
          sidecars: ['C0001M01.XML', 'C0001M02.KLV', 'C0001R01.BIM'],
          reason: 'same-stem',
        },
        { essence: ['Office_0001.MXF'], companions: ['Office_0001S01.MXF'], reason: 'same-stem' },
      ],
      ['E0001E01.SMI', 'E0001M01.XML', 'T0001.SMI', 'INDEX.XML', 'DISCMETA.XML', 'MEDIAPRO.XML', 'CUEUP.XML'],
    );
  });

  // The same on memory cards, its folders in capitals: from memory.
  test('XAVC on a memory card', () => {
    expectClips(
      below('PRIVATE/M4ROOT', ['CLIP/C0001.MP4', 'CLIP/C0001M01.XML', 'SUB/C0001S03.MP4', 'THMBNL/C0001T01.JPG']),
      [
        {
          essence: ['C0001.MP4'],
          companions: ['C0001S03.MP4'],
          sidecars: ['C0001M01.XML', 'C0001T01.JPG'],
          reason: 'same-stem',
        },
      ],
    );
  });

  // XMP Toolkit SDK, XDCAM_Handler.cpp ("SAM").
  test('XDCAM, a folder per clip: picture and sound are essence', () => {
    const files = ['C01.SMI', 'V01.MXF', 'A01.MXF', 'A02.MXF', 'R01.BIM', 'I01.PPN', 'M01.XML', 'S01.MXF'];
    expectClips(
      [...files.map((rest) => `PROAV/CLPR/C0001/C0001${rest}`), 'PROAV/EDTR/E0001/E0001E01.SMI'],
      [
        {
          essence: ['C0001V01.MXF', 'C0001A01.MXF', 'C0001A02.MXF'],
          companions: ['C0001S01.MXF'],
          sidecars: ['C0001C01.SMI', 'C0001I01.PPN', 'C0001M01.XML', 'C0001R01.BIM'],
          parts: 'tracks',
          separateSound: 2,
          reason: 'card-layout',
        },
      ],
      ['E0001E01.SMI'],
    );
  });

  // XMP Toolkit SDK, XDCAMEX_Handler.cpp.
  test('XDCAM EX: the second number counts the parts of one recording', () => {
    const part = (id: string) =>
      ['.SMI', '.MP4', 'M01.XML', 'R01.BIM', 'I01.PPN'].map((end) => `CLPR/${id}/${id}${end}`);
    const files = ['MEDIAPRO.XML', 'TAKR/709_001/709_001.SMI', 'TAKR/709_001/709_001M01.XML'];
    const { clips, loose } = told(
      group(below('BPAV', [...files, ...['709_001_01', '709_001_02', '709_002_01'].flatMap(part)])),
    );
    expect(clips.map(({ essence, parts, sidecars, reason }) => [essence, parts, sidecars.length, reason])).toEqual([
      [['709_001_01.MP4', '709_001_02.MP4'], 'spans', 10, 'span-number'],
      [['709_002_01.MP4'], null, 4, 'span-number'],
    ]);
    expect(loose).toEqual(['MEDIAPRO.XML']);
  });

  test('elsewhere such a number is no part', () => {
    expectClips(
      ['709_001_01.MP4', '709_001_02.MP4'],
      [
        { essence: ['709_001_01.MP4'], reason: 'single-file' },
        { essence: ['709_001_02.MP4'], reason: 'single-file' },
      ],
    );
  });

  // XMP Toolkit SDK, AVCHD_Handler.cpp: names do not tell spans, the playlist does (core/intake/join.ts).
  test('AVCHD: a stream and its clip information', () => {
    const files = ['INDEX.BDM', 'MOVIEOBJ.BDM', 'PLAYLIST/00000.MPL', 'CLIPINF/00000.CPI', 'STREAM/00000.MTS'];
    expectClips(
      below('PRIVATE/AVCHD/BDMV', [...files, 'STREAM/00001.MTS', 'CLIPINF/00001.CPI']),
      [
        { essence: ['00000.MTS'], sidecars: ['00000.CPI'], reason: 'card-layout' },
        { essence: ['00001.MTS'], sidecars: ['00001.CPI'], reason: 'card-layout' },
      ],
      ['INDEX.BDM', 'MOVIEOBJ.BDM', '00000.MPL'],
    );
  });

  // XMP Toolkit SDK, SonyHDV_Handler.cpp.
  test('HDV: all files of one clip id', () => {
    const file = (id: string, time: string, ext: string) => `${id}_2007-08-06_${time}.${ext}`;
    expectClips(
      below('VIDEO/HVR', [
        ...['IDX', 'M2T'].map((ext) => file('00_0001', '165555', ext)),
        file('00_0001', '171955', 'M2T'),
        file('00_0002', '180000', 'M2T'),
        'tracks.dat',
      ]),
      [
        {
          essence: [file('00_0001', '165555', 'M2T'), file('00_0001', '171955', 'M2T')],
          sidecars: [file('00_0001', '165555', 'IDX')],
          parts: 'spans',
          reason: 'span-number',
        },
        { essence: [file('00_0002', '180000', 'M2T')], reason: 'single-file' },
      ],
      ['tracks.dat'],
    );
  });
});

// The maker's published guides.
describe('cinema raw', () => {
  const raw = 'A004_C001_1223XX';

  test('spans in the folder of a clip', () => {
    expectClips(
      below(`A004.RDM/${raw}.RDC`, [
        `${raw}_001.R3D`,
        `${raw}_002.R3D`,
        `${raw}_010.R3D`,
        `${raw}_001.rtn`,
        `${raw}.RMD`,
      ]),
      [
        {
          essence: [`${raw}_001.R3D`, `${raw}_002.R3D`, `${raw}_010.R3D`],
          sidecars: [`${raw}.RMD`, `${raw}_001.rtn`],
          parts: 'spans',
          missingParts: [{ first: 3, last: 9 }],
          reason: 'span-number',
        },
      ],
    );
  });

  test('spans without their folder; a checksum goes with its file', () => {
    expectClips(
      [`Day 1/${raw}_002.R3D`, `Day 1/${raw}_002.R3D.md5`, 'Day 1/house_001.R3D'],
      [
        {
          essence: [`${raw}_002.R3D`],
          sidecars: [`${raw}_002.R3D.md5`],
          missingParts: [{ first: 1, last: 1 }],
          reason: 'span-number',
        },
        { essence: ['house_001.R3D'], reason: 'single-file' },
      ],
    );
  });

  test('what was recorded in another codec beside raw is no second clip, and keeps its kind', () => {
    const beside = ['_001.mov', '_001_V.mxf', '_001_A.mxf'].map((end) => `${raw}${end}`);
    const grouped = group(below(`${raw}.RDC`, [`${raw}_001.R3D`, `${raw}_001.wav`, ...beside]));
    expect(shape(grouped).clips).toEqual([
      {
        name: `${raw}_001.R3D`,
        kind: 'original',
        essence: [`${raw}_001.R3D`, `${raw}_001.wav`],
        companions: [`${raw}_001.mov`, `${raw}_001_V.mxf`, `${raw}_001_A.mxf`],
        sidecars: [],
      },
    ]);
    expect(grouped.clips[0]?.companions.map(({ kind }) => kind)).toEqual(['original', 'original', 'sound']);
  });

  test('sound of a recording beside raw goes with it, sound in a file of its own with raw', () => {
    const files = ['_001.r3d', '_001.MOV', '_001_A.MXF', '_001.wav'].map((end) => `${raw}${end}`);
    expect(shape(group(below(`${raw}.RDC`, files))).clips).toMatchObject([
      { essence: [`${raw}_001.r3d`, `${raw}_001.wav`], companions: [`${raw}_001.MOV`, `${raw}_001_A.MXF`] },
    ]);
  });

  test('sound of a recording whose picture is not there is not that of raw', () => {
    expect(shape(group(below(`${raw}.RDC`, [`${raw}_001.R3D`, `${raw}_001_A.mxf`]))).clips).toMatchObject([
      { essence: [`${raw}_001.R3D`], companions: [`${raw}_001_A.mxf`] },
    ]);
  });

  test('without raw it is the recording, and spans as raw does', () => {
    expectClips(below(`${raw}.RDC`, [`${raw}_001.mov`, `${raw}_002.mov`]), [
      { essence: [`${raw}_001.mov`, `${raw}_002.mov`], parts: 'spans', reason: 'span-number' },
    ]);
    expectClips(below(`${raw}.RDC`, [`${raw}_001_V.mxf`, `${raw}_001_A.mxf`]), [
      { essence: [`${raw}_001_V.mxf`, `${raw}_001_A.mxf`], parts: 'tracks', separateSound: 1, reason: 'span-number' },
    ]);
  });
});

// The maker's table of file names; open tests of its programming interface.
describe('action camera chapters', () => {
  test('by file number, then chapter', () => {
    expectClips(
      below('DCIM/100GOPRO', ['GH010123.MP4', 'GH010124.MP4', 'GH020123.MP4', 'GH010123.THM', 'GL010123.LRV']),
      [
        {
          essence: ['GH010123.MP4', 'GH020123.MP4'],
          companions: ['GL010123.LRV'],
          sidecars: ['GH010123.THM'],
          parts: 'spans',
          reason: 'chapter-number',
        },
        { essence: ['GH010124.MP4'], reason: 'single-file' },
      ],
    );
  });

  test('older names: the first chapter has its own', () => {
    expectClips(
      ['GP020123.MP4', 'GOPR0123.MP4', 'GP010123.MP4', 'GOPR0123.LRV', 'GOPR0123.THM', 'GOPR0124.JPG'],
      [
        {
          essence: ['GOPR0123.MP4', 'GP010123.MP4', 'GP020123.MP4'],
          companions: ['GOPR0123.LRV'],
          sidecars: ['GOPR0123.THM'],
          parts: 'spans',
          reason: 'chapter-number',
        },
      ],
      ['GOPR0124.JPG'],
    );
  });

  test.each([
    [['GS010123.360', 'GS020123.360'], []],
    [
      ['GX020123.MP4', 'GX040123.MP4'],
      [
        { first: 1, last: 1 },
        { first: 3, last: 3 },
      ],
    ],
    [['GX010123.MP4', 'GX990123.MP4'], [{ first: 2, last: 98 }]],
    [
      ['GP010123.MP4', 'GP030123.MP4'],
      [
        { first: 1, last: 1 },
        { first: 3, last: 3 },
      ],
    ],
  ])('%j: missing are %j', (files, missingParts) => {
    expectClips(files, [{ essence: files, parts: 'spans', missingParts, reason: 'chapter-number' }]);
  });

  test('a loop is no chapter, nor is chapter 0', () => {
    const files = ['GHAA0001.MP4', 'GHAA0002.MP4', 'GH000001.MP4', 'GH010001.MP4'];
    expectClips(
      files,
      files.map((name) => ({ essence: [name], reason: 'single-file' })),
    );
  });

  test('two cameras in one folder: the small picture is of one or the other, so of neither', () => {
    expectClips(
      ['GH010123.MP4', 'GX010123.MP4', 'GX010123.THM', 'GL010123.LRV', 'GX010123.LRV', 'GX010123.WAV'],
      [
        { essence: ['GH010123.MP4'], reason: 'single-file' },
        {
          essence: ['GX010123.MP4', 'GX010123.WAV'],
          companions: ['GX010123.LRV'],
          sidecars: ['GX010123.THM'],
          parts: 'tracks',
          separateSound: 1,
          reason: 'chapter-number',
        },
        { essence: ['GL010123.LRV'], kind: 'proxy', reason: 'proxy-without-original' },
      ],
    );
  });

  test('what such a camera does not write has its name by chance', () => {
    expectClips(
      ['GX010123.mxf', 'GX020123.mxf'],
      ['GX010123.mxf', 'GX020123.mxf'].map((name) => ({ essence: [name], reason: 'single-file' })),
    );
  });

  test('two files with one number are not one recording', () => {
    expect(group(['GX010123.MP4', 'GX020123.MP4', 'gx010123.MP4']).clips.map(({ name }) => name)).toEqual([
      'GX010123.MP4',
      'gx010123.MP4',
    ]);
  });
});

// A page of the cameras' users.
test('two lenses are one clip, and their small picture with them', () => {
  const name = (lens: string) => `VID_20220110_121609_${lens}_657.insv`;
  expectClips(
    [name('10'), name('00'), 'LRV_20220110_121609_11_657.insv', 'VID_20220110_121700_10_658.insv'],
    [
      {
        essence: [name('00'), name('10')],
        companions: ['LRV_20220110_121609_11_657.insv'],
        parts: 'lenses',
        reason: 'lens-number',
      },
      { essence: ['VID_20220110_121700_10_658.insv'], missingParts: [{ first: 1, last: 1 }], reason: 'single-file' },
    ],
  );
});

describe('small pictures', () => {
  // Samples of the drones' subtitle files; the rest: common practice, no source.
  test('a drone: proxy and subtitles', () => {
    expectClips(
      ['DJI_0001.MP4', 'DJI_0001.SRT', 'DJI_0001.LRF'],
      [{ essence: ['DJI_0001.MP4'], companions: ['DJI_0001.LRF'], sidecars: ['DJI_0001.SRT'], reason: 'same-stem' }],
    );
  });

  // Canon EOS C80 manual, "Clips File Names": but for the last component the names are the same.
  test('a cinema camera: the name with _Proxy behind it', () => {
    const name = 'A_0001C001X260110_121609XX_LOCK_001';
    expectClips(
      [`${name}.MXF`, `${name}_Proxy.MP4`, `${name}_Proxy.XML`],
      [
        {
          essence: [`${name}.MXF`],
          companions: [`${name}_Proxy.MP4`],
          sidecars: [`${name}_Proxy.XML`],
          reason: 'same-stem',
        },
      ],
    );
  });

  test.each(['DJI_0001.LRF', 'GL010123.LRV', 'Sub/C0001S01.MXF', 'CONTENTS/PROXY/0001AB.MP4', 'A_001_Proxy.MP4'])(
    '%s without its original is a clip, and says so',
    (path) => {
      expectClips([path], [{ essence: [baseName(path)], kind: 'proxy', reason: 'proxy-without-original' }]);
    },
  );

  test('a proxy that somebody made and keeps elsewhere is an ordinary file', () => {
    expectClips(['Proxies/A001.mov'], [{ essence: ['A001.mov'], kind: 'proxy', reason: 'single-file' }]);
  });

  test('bytes of a companion count for its clip, not for its essence', () => {
    const [only, ...others] = groupRecords([record('DJI_0001.MP4', 1000), record('DJI_0001.LRF', 30)]).clips;
    expect([only?.bytes, only?.essenceBytes, others]).toEqual([1030, 1000, []]);
  });
});

// Recorders' manuals.
describe('sound takes', () => {
  test('one file for each track, by the recorder that names them so', () => {
    const take = 'Scene001-T001';
    const files = ['_Tr1.wav', '_Tr1_D.wav', '_Tr2.wav', '_Tr3_4.wav', '_Tr10.wav', '_TrL_R.wav'].map(
      (end) => take + end,
    );
    expectClips(below(take, files), [{ essence: files, kind: 'sound', parts: 'tracks', reason: 'track-number' }]);
    expectClips(
      ['210101_002_Tr1.WAV', '210101_002_Tr2.WAV', '210101_003_Tr1.WAV'],
      [
        {
          essence: ['210101_002_Tr1.WAV', '210101_002_Tr2.WAV'],
          kind: 'sound',
          parts: 'tracks',
          reason: 'track-number',
        },
        { essence: ['210101_003_Tr1.WAV'], kind: 'sound', reason: 'single-file' },
      ],
    );
  });

  test('a file of the plain name is of the take as well', () => {
    expectClips(
      ['T001.wav', 'T001_Tr1.wav', 'T001_Tr2.wav'],
      [
        {
          essence: ['T001.wav', 'T001_Tr1.wav', 'T001_Tr2.wav'],
          kind: 'sound',
          parts: 'tracks',
          reason: 'track-number',
        },
      ],
    );
  });

  test('a file of the plain name and another ending is a recording by itself', () => {
    expect(group(['T001.mp3', 'T001_Tr1.wav', 'T001_Tr2.wav']).clips.map(({ name }) => name)).toEqual([
      'T001.mp3',
      'T001_Tr1.wav',
    ]);
  });

  test('a number alone may be a track or a take: they stay apart, and in units of their own', () => {
    const files = ['A101_1.WAV', 'A101_1_1.WAV', 'A101_1_2.WAV'];
    expectClips(
      files,
      files.map((name) => ({ essence: [name], kind: 'sound', reason: 'single-file' })),
    );
    expect(new Set(files.map((path) => record(path).unit)).size).toBe(3);
  });
});

describe('frames', () => {
  const pad = (number: number) => String(number).padStart(6, '0');

  // A camera's page on file names: <ext>/<roll>/<shot>/<shot>.<frame>.<ext>; the range is its timecode in frames.
  test('a folder for each shot', () => {
    const shot = (name: string, numbers: number[]) =>
      numbers.map((number) => `ari/A002R2EC/${name}/${name}.0${pad(number)}.ari`);
    const { clips } = group([
      ...shot('A002C006_141024_R2EC', [86_880, 86_881, 86_882]),
      ...shot('A002C007_141024_R2EC', [90_000, 90_001, 90_002, 90_004]),
    ]);
    expect(clips.map(({ name, parts, missingFrames, reason }) => [name, parts, missingFrames, reason])).toEqual([
      ['A002C006_141024_R2EC.[0086880-0086882].ari', 'frames', [], 'numbered-frames'],
      ['A002C007_141024_R2EC.[0090000-0090004].ari', 'frames', [{ first: 90_003, last: 90_003 }], 'numbered-frames'],
    ]);
  });

  // A reel of 30,000 frames in a folder with a number is one sequence; that a folder goes on with another is proven elsewhere
  // (core/intake/join-frames.ts).
  test('a numbered folder changes nothing', () => {
    const { clips } = group([19_998, 19_999, 20_000, 20_001].map((number) => `reel_001/f_${pad(number)}.dpx`));
    expect(clips).toMatchObject([
      { name: 'f_[019998-020001].dpx', missingFrames: [], missingParts: [], parts: 'frames' },
    ]);
  });

  test('what stands behind the number tells two sequences apart', () => {
    const { clips } = group(
      [1, 2, 3].flatMap((number) => ['left', 'right'].map((side) => `x_${pad(number)}_${side}.exr`)),
    );
    expect(clips.map(({ name }) => name)).toEqual(['x_[000001-000003]_left.exr', 'x_[000001-000003]_right.exr']);
  });
});

// Measured: readers take these for a video of one frame.
test('a still in a movie container is no clip, also beside a film of its name', () => {
  expectClips(
    ['IMG_0001.CR3', 'IMG_0002.HEIC', 'IMG_0002.MOV'],
    [{ essence: ['IMG_0002.MOV'], reason: 'single-file' }],
    ['IMG_0001.CR3', 'IMG_0002.HEIC'],
  );
});

// ascmitc/mhl, examples/scenarios: reel folders of one camera.
test('a reel folder: each file a clip, the lists of the card none', () => {
  expectClips(
    ['A002R2EC/Clips/A002C006_141024_R2EC.mov', 'A002R2EC/Clips/A002C007_141024_R2EC.mov', 'A002R2EC/A002R2EC.ale'],
    [
      { essence: ['A002C006_141024_R2EC.mov'], reason: 'single-file' },
      { essence: ['A002C007_141024_R2EC.mov'], reason: 'single-file' },
    ],
    ['A002R2EC.ale'],
  );
});
