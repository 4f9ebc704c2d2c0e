import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type GroupedUnit, groupUnit } from '../../../src/core/intake/group.ts';
import { filesOf } from '../../../src/core/intake/take-clip.ts';
import { group, groupRecords, record, shape } from './take-files.ts';

const count = (length: number) => Array.from({ length }, (_, index) => index + 1);
const scan = (number: number) => `reel/scan_${String(number).padStart(4, '0')}.dpx`;

describe('units', () => {
  test.each([
    ['Day 1/A001.mov', 'Day 1/a001.*'],
    ['Day 1/a001.WAV', 'Day 1/a001.*'],
    ['Day 1/A001.mov.xmp', 'Day 1/a001.*'],
    ['reel/scan_0001.dpx', 'reel/scan_[####].dpx'],
    ['reel/scan_000001.dpx', 'reel/scan_[######].dpx'],
    ['Clip/C0001.MXF', 'Clip/c0001.*'],
    ['Clip/C0001M01.XML', 'Clip/c0001.*'],
    ['Clip/C0001R01.BIM', 'Clip/c0001.*'],
    ['BPAV/CLPR/709_001_01/709_001_01M01.XML', 'BPAV/CLPR/709_001.*'],
    ['CONTENTS/VIDEO/0001AB.MXF', 'CONTENTS/0001ab.*'],
    ['card/CONTENTS/AUDIO/0001AB03.MXF', 'card/CONTENTS/0001ab.*'],
    ['card/contents/clip/0001ab.xml', 'card/CONTENTS/0001ab.*'],
    ['CONTENTS/PROXY/0001AB.MP4', 'CONTENTS/0001ab.*'],
    ['A_0001C001X260110_121609XX_LOCK_001_Proxy.MP4', 'a_0001c001x260110_121609xx_lock_001.*'],
    ['A101_1.WAV', 'a101_1.*'],
    ['mix_proxy.wav', 'mix_proxy.*'],
    ['AVCHD/BDMV/STREAM/00000.MTS', 'AVCHD/BDMV/00000.*'],
    ['AVCHD/BDMV/CLIPINF/00000.CPI', 'AVCHD/BDMV/00000.*'],
    ['AVCHD/BDMV/PLAYLIST/00000.MPL', 'AVCHD/BDMV/PLAYLIST/00000.*'],
    ['DSC_0001.JPG', 'DSC_0001.JPG'],
    ['cut.prproj', 'cut.prproj'],
  ])('%s belongs to %s', (path, unit) => {
    expect(record(path).unit).toBe(unit);
  });
});

describe('takes', () => {
  test('picture, separate sound and sidecars of one name are one clip', () => {
    expect(shape(group(['A001.xml', 'A001.wav', 'A001.mov', 'A001.mov.xmp']))).toEqual({
      clips: [
        {
          name: 'A001.mov',
          kind: 'original',
          essence: ['A001.mov', 'A001.wav'],
          companions: [],
          sidecars: ['A001.mov.xmp', 'A001.xml'],
        },
      ],
      loose: [],
    });
  });

  test('two pictures of one name are two clips, with units of their own', () => {
    const grouped = group(['A001.mp4', 'A001.mov', 'A001.wav', 'A001.mp4.xmp', 'A001.srt']);
    expect(shape(grouped).clips).toEqual([
      { name: 'A001.mov', kind: 'original', essence: ['A001.mov', 'A001.wav'], companions: [], sidecars: ['A001.srt'] },
      { name: 'A001.mp4', kind: 'original', essence: ['A001.mp4'], companions: [], sidecars: ['A001.mp4.xmp'] },
    ]);
    expect(grouped.clips.map(({ unit }) => unit)).toEqual(['a001.*', 'a001.*#A001.mp4']);
  });

  test('sound beside a proxy alone stays a recording of its own', () => {
    expect(shape(group(['A001.lrv', 'A001.wav'])).clips.map(({ kind }) => kind)).toEqual(['proxy', 'sound']);
  });

  test('two sound files of one name are two clips', () => {
    expect(shape(group(['mix.wav', 'mix.mp3'])).clips.map(({ name }) => name)).toEqual(['mix.mp3', 'mix.wav']);
  });

  test('sidecars without essence, stills and project files belong to no clip', () => {
    const grouped = shape(group(['C0001M01.XML', 'DSC_0001.JPG', 'DSC_0001.ARW', 'cut.prproj']));
    expect(grouped.clips).toEqual([]);
    expect(grouped.loose.toSorted()).toEqual(['C0001M01.XML', 'DSC_0001.ARW', 'DSC_0001.JPG', 'cut.prproj']);
  });

  test('bytes of sidecars count for the clip, not for its essence', () => {
    const [clip] = groupUnit([record('A001.mov', 1000), record('A001.wav', 200), record('A001.xml', 3)]).clips;
    expect([clip?.bytes, clip?.essenceBytes]).toEqual([1203, 1200]);
  });
});

describe('sequences', () => {
  test('all frames are one clip, first frame first, gaps told', () => {
    const { clips, loose } = groupUnit([7, 1, 2, 24].map((number) => record(scan(number))));
    expect(clips).toHaveLength(1);
    expect(clips[0]).toMatchObject({
      name: 'scan_[0001-0024].dpx',
      kind: 'original',
      unit: 'reel/scan_[####].dpx',
      bytes: 400,
    });
    expect(clips[0]?.essence.map(({ path }) => path)).toEqual([1, 2, 7, 24].map(scan));
    expect(clips[0]?.missingFrames).toEqual([
      { first: 3, last: 6 },
      { first: 8, last: 23 },
    ]);
    expect(loose).toEqual([]);
  });

  // As in the published OpenEXR sample images: two sequences of eight in one folder.
  test('two sequences in one folder', () => {
    const paths = ['singlepart', 'multipart'].flatMap((name) =>
      count(8).map((number) => `Beachball/${name}.000${number}.exr`),
    );
    expect(group(paths).clips.map(({ name }) => name)).toEqual([
      'singlepart.[0001-0008].exr',
      'multipart.[0001-0008].exr',
    ]);
  });

  test('too few frames are stills', () => {
    const { clips, loose } = group([scan(1), scan(2)]);
    expect(clips).toEqual([]);
    expect(loose.map(({ kind }) => kind)).toEqual(['still', 'still']);
  });

  test('a card of photographs is no sequence, a time lapse is', () => {
    const photographs = count(400).map((number) => `DCIM/100CANON/IMG_${String(number).padStart(4, '0')}.JPG`);
    expect(group(photographs).clips).toEqual([]);
    const lapse = group(count(24).map((number) => `lapse/frame_${String(number).padStart(5, '0')}.jpg`));
    expect(lapse.clips.map(({ name, kind }) => [name, kind])).toEqual([['frame_[00001-00024].jpg', 'original']]);
    expect(lapse.clips[0]?.essence.every(({ kind }) => kind === 'original')).toBe(true);
  });

  test('rendered frames are a render, cached frames no clip', () => {
    expect(group(count(3).map((number) => `Renders/x_000${number}.exr`)).clips[0]?.kind).toBe('render');
    expect(group(count(3).map((number) => `Cache/x_000${number}.exr`)).clips).toEqual([]);
  });

  test('12,000 frames are grouped in well under a second', () => {
    const files = count(12_000).map((number) => record(`reel/scan_${String(number).padStart(6, '0')}.dpx`));
    const started = performance.now();
    expect(groupUnit(files).clips).toHaveLength(1);
    expect(performance.now() - started).toBeLessThan(1000);
  });
});

describe('properties', () => {
  const name = fc.oneof(
    fc
      .record({
        stem: fc.constantFrom(
          ...['A001', 'a001', 'C0001', 'C0001M01', 'C0001S01', 'A001.mov', 'A001_Proxy', 'DSC_0001', 'clip*', 'g*0001'],
          ...[
            'GH010001',
            'gh010001',
            'GX010001',
            'GX020001',
            'GX040001',
            'GL010001',
            'GOPR0001',
            'GP010001',
            'GS010001',
          ],
          ...['T1_Tr1', 'T1_Tr1_D', 'T1_Tr2', 'T1_TrL_R', 'T1', 'A101_1', 'A101_1_1'],
          ...['VID_20260110_121609_00_657', 'VID_20260110_121609_10_657', 'LRV_20260110_121609_11_657'],
          ...['A004_C001_1223XX_001', 'A004_C001_1223XX_002', 'A004_C001_1223XX_001_V', 'A004_C001_1223XX_001_A'],
        ),
        ext: fc.constantFrom(
          ...[
            'mov',
            'MP4',
            'mxf',
            'wav',
            'mp3',
            'xml',
            'XMP',
            'jpg',
            'lrv',
            'THM',
            'prproj',
            'txt',
            'dpx',
            'R3D',
            'insv',
          ],
          ...['mov.md5', 'rtn', '360'],
        ),
      })
      .map(({ stem, ext }) => `${stem}.${ext}`),
    fc.integer({ min: 1, max: 40 }).map((number) => scan(number).slice('reel/'.length)),
    fc.integer({ min: 1, max: 40 }).map((number) => `lapse_0${String(number).padStart(4, '0')}.png`),
  );
  const dir = fc.constantFrom(
    ...['', 'CONTENTS/VIDEO/', 'CONTENTS/AUDIO/', 'CONTENTS/PROXY/', 'Proxies/', 'Renders/', 'Cache/', 'Day 1/'],
    ...['Clip/', 'Sub/', 'SUB/', 'A004_C001_1223XX.RDC/', 'BPAV/CLPR/709_001_01/', 'BPAV/TAKR/709_001/'],
  );
  const card = fc.oneof(
    fc
      .tuple(fc.constantFrom('VIDEO', 'AUDIO', 'VOICE', 'AVCLIP', 'PROXY'), fc.constantFrom('', '00', '01'))
      .map(([folder, channel]) => `CONTENTS/${folder}/0001AB${channel}.MXF`),
    fc
      .tuple(fc.constantFrom('01', '02', '04'), fc.constantFrom('.MP4', 'M01.XML', 'R01.BIM'))
      .map(([part, rest]) => `BPAV/CLPR/709_001_${part}/709_001_${part}${rest}`),
    fc
      .constantFrom('V01.MXF', 'A01.MXF', 'A02.MXF', 'S01.MXF', 'M01.XML')
      .map((rest) => `PROAV/CLPR/C0001/C0001${rest}`),
    fc
      .tuple(fc.constantFrom('165555', '171000'), fc.constantFrom('M2T', 'IDX'))
      .map(([time, ext]) => `VIDEO/HVR/00_0001_2027-03-04_${time}.${ext}`),
  );
  const paths = fc.uniqueArray(
    fc.oneof(
      fc.tuple(dir, name).map((parts) => parts.join('')),
      card,
    ),
    { maxLength: 80 },
  );
  const sorted = (grouped: GroupedUnit) => ({
    clips: grouped.clips.toSorted((a, b) => (a.unit < b.unit ? -1 : 1)),
    loose: grouped.loose.toSorted((a, b) => (a.path < b.path ? -1 : 1)),
  });

  test('any order of arrival gives the same groups', () => {
    fc.assert(
      fc.property(
        paths.chain((all) => fc.tuple(fc.constant(all), fc.shuffledSubarray(all, { minLength: all.length }))),
        ([all, shuffled]) => {
          expect(sorted(group(shuffled))).toEqual(sorted(group(all)));
        },
      ),
    );
  });

  test('a take that was grouped before its last files came is the same as one grouped at once', () => {
    fc.assert(
      fc.property(paths, fc.nat(80), (all, at) => {
        const early = filesOf(group(all.slice(0, at)));
        expect(sorted(groupRecords([...early, ...all.slice(at).map((path) => record(path))])).clips).toEqual(
          sorted(group(all)).clips,
        );
      }),
    );
  });

  test('every file is in exactly one place, bytes are counted once, units are distinct', () => {
    fc.assert(
      fc.property(paths, (all) => {
        const grouped = group(all);
        const { clips, loose } = grouped;
        expect(
          filesOf(grouped)
            .map(({ path }) => path)
            .toSorted(),
        ).toEqual(all.toSorted());
        const bytes = clips.reduce((sum, clip) => sum + clip.bytes, 0) + loose.reduce((sum, { size }) => sum + size, 0);
        expect(bytes).toBe(all.length * 100);
        for (const clip of clips) expect(clip.essenceBytes).toBe(clip.essence.length * 100);
        expect(new Set(clips.map(({ unit }) => unit)).size).toBe(clips.length);
      }),
    );
  });

  test('grouping what was grouped changes nothing', () => {
    fc.assert(
      fc.property(paths, (all) => {
        const first = group(all);
        expect(sorted(groupRecords(filesOf(first)))).toEqual(sorted(first));
      }),
    );
  });

  test('below another folder the groups are the same', () => {
    fc.assert(
      fc.property(paths, (all) => {
        const moved = group(all.map((path) => `Saltmarsh/Day 2/${path}`));
        const back = (unit: string) => unit.replace('Saltmarsh/Day 2/', '');
        const told = (grouped: GroupedUnit) =>
          shape(grouped).clips.map((clip, at) => ({ ...clip, unit: back(grouped.clips[at]?.unit ?? '') }));
        expect(told(moved)).toEqual(told(group(all)));
      }),
    );
  });

  test('a companion has an original in its clip, and a clip of one file says so', () => {
    fc.assert(
      fc.property(paths, (all) => {
        for (const { kind, essence, companions, sidecars, parts, reason, separateSound } of group(all).clips) {
          if (companions.length > 0) expect(kind).toBe('original');
          expect(essence.length > 1).toBe(parts !== null);
          expect(separateSound).toBeLessThan(essence.length);
          if (reason === 'single-file') expect(essence.length + companions.length + sidecars.length).toBe(1);
        }
      }),
    );
  });
});
