import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type GroupedUnit, groupUnit, unitOf } from '../../../src/core/intake/group.ts';
import { kindOf } from '../../../src/core/intake/kind.ts';
import { baseName } from '../../../src/core/intake/path-text.ts';
import type { FileRecord } from '../../../src/core/model.ts';

function record(path: string, size = 100): FileRecord {
  const { kind } = kindOf(path);
  const stat = { path, size, allocated: size, mtimeNs: 1n, ctimeNs: 1n, dev: 1n, ino: 1n, nlink: 1 };
  return {
    ...stat,
    volume: 'stripe',
    area: 'project',
    project: 'Saltmarsh',
    kind,
    unit: unitOf(path, kind),
    state: 'arriving',
  };
}

/** Groups files as the flow does: by unit, each unit by itself. */
function group(paths: readonly string[]): GroupedUnit {
  const units = Object.values(
    Object.groupBy(
      paths.map((path) => record(path)),
      ({ unit }) => unit,
    ),
  );
  const grouped = units.map((files) => groupUnit(files ?? []));
  return { clips: grouped.flatMap(({ clips }) => clips), loose: grouped.flatMap(({ loose }) => loose) };
}

const shape = ({ clips, loose }: GroupedUnit) => ({
  clips: clips.map(({ name, kind, essence, sidecars }) => ({
    name,
    kind,
    essence: essence.map(({ path }) => baseName(path)),
    sidecars: sidecars.map(({ path }) => baseName(path)),
  })),
  loose: loose.map(({ path }) => baseName(path)),
});
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
    ['BPAV/CLPR/709_001_01/709_001_01M01.XML', 'BPAV/CLPR/709_001_01/709_001_01.*'],
    ['CONTENTS/VIDEO/0001AB.MXF', 'CONTENTS/0001ab.*'],
    ['card/CONTENTS/AUDIO/0001AB03.MXF', 'card/CONTENTS/0001ab.*'],
    ['card/contents/clip/0001ab.xml', 'card/CONTENTS/0001ab.*'],
    ['CONTENTS/PROXY/0001AB.MP4', 'CONTENTS/PROXY/0001ab.*'],
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
          sidecars: ['A001.mov.xmp', 'A001.xml'],
        },
      ],
      loose: [],
    });
  });

  test('two pictures of one name are two clips, with units of their own', () => {
    const grouped = group(['A001.mp4', 'A001.mov', 'A001.wav', 'A001.mp4.xmp', 'A001.srt']);
    expect(shape(grouped).clips).toEqual([
      { name: 'A001.mov', kind: 'original', essence: ['A001.mov', 'A001.wav'], sidecars: ['A001.srt'] },
      { name: 'A001.mp4', kind: 'original', essence: ['A001.mp4'], sidecars: ['A001.mp4.xmp'] },
    ]);
    expect(grouped.clips.map(({ unit }) => unit)).toEqual(['a001.*', 'a001.*#A001.mp4']);
  });

  test('the original leads, its small proxy is a clip of another kind', () => {
    expect(shape(group(['DJI_0001.LRF', 'DJI_0001.MP4', 'DJI_0001.SRT'])).clips).toEqual([
      { name: 'DJI_0001.MP4', kind: 'original', essence: ['DJI_0001.MP4'], sidecars: ['DJI_0001.SRT'] },
      { name: 'DJI_0001.LRF', kind: 'proxy', essence: ['DJI_0001.LRF'], sidecars: [] },
    ]);
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

  // Layout: XMP Toolkit SDK, P2 handler.
  test('a P2 clip is one take over its folders', () => {
    const paths = [
      'VIDEO/0001AB.MXF',
      'AUDIO/0001AB00.MXF',
      'AUDIO/0001AB01.MXF',
      'CLIP/0001AB.XML',
      'ICON/0001AB.BMP',
    ];
    const all = [...paths, 'VOICE/0001AB00.WAV', 'PROXY/0001AB.MP4'].map((path) => `CONTENTS/${path}`);
    expect(shape(group(all)).clips).toEqual([
      {
        name: '0001AB.MXF',
        kind: 'original',
        essence: ['0001AB.MXF', '0001AB00.MXF', '0001AB01.MXF'],
        sidecars: ['0001AB.XML', '0001AB.BMP', '0001AB00.WAV'],
      },
      { name: '0001AB.MP4', kind: 'proxy', essence: ['0001AB.MP4'], sidecars: [] },
    ]);
  });

  test('P2 sound without its picture is one sound clip', () => {
    const { clips } = group(['CONTENTS/AUDIO/0001AB00.MXF', 'CONTENTS/AUDIO/0001AB01.MXF']);
    expect(clips.map(({ kind, essence }) => [kind, essence.length])).toEqual([['sound', 2]]);
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
        stem: fc.constantFrom('A001', 'a001', 'C0001', 'C0001M01', 'A001.mov', 'A001_Proxy', 'DSC_0001', 'clip*'),
        ext: fc.constantFrom('mov', 'MP4', 'mxf', 'wav', 'mp3', 'xml', 'XMP', 'jpg', 'lrv', 'prproj', 'txt', 'dpx'),
      })
      .map(({ stem, ext }) => `${stem}.${ext}`),
    fc.integer({ min: 1, max: 40 }).map((number) => scan(number).slice('reel/'.length)),
    fc.integer({ min: 1, max: 40 }).map((number) => `lapse_0${String(number).padStart(4, '0')}.png`),
  );
  const dir = fc.constantFrom('', 'CONTENTS/VIDEO/', 'CONTENTS/AUDIO/', 'Proxies/', 'Cache/', 'Day 1/');
  const p2 = fc
    .tuple(fc.constantFrom('VIDEO/', 'AUDIO/', 'VOICE/', 'AVCLIP/'), fc.constantFrom('0001AB', '0001AB00', '0001AB01'))
    .map(([folder, file]) => `CONTENTS/${folder}${file}.MXF`);
  const paths = fc.uniqueArray(
    fc.oneof(
      fc.tuple(dir, name).map((parts) => parts.join('')),
      p2,
    ),
    { maxLength: 60 },
  );

  test('any order of arrival gives the same groups', () => {
    fc.assert(
      fc.property(
        paths.chain((all) => fc.tuple(fc.constant(all), fc.shuffledSubarray(all, { minLength: all.length }))),
        ([all, shuffled]) => {
          const byUnit = (grouped: GroupedUnit) => ({
            clips: grouped.clips.toSorted((a, b) => (a.unit < b.unit ? -1 : 1)),
            loose: grouped.loose.toSorted((a, b) => (a.path < b.path ? -1 : 1)),
          });
          expect(byUnit(group(shuffled))).toEqual(byUnit(group(all)));
        },
      ),
    );
  });

  test('every file is in exactly one place, bytes are counted once, units are distinct', () => {
    fc.assert(
      fc.property(paths, (all) => {
        const { clips, loose } = group(all);
        const placed = [...clips.flatMap(({ essence, sidecars }) => [...essence, ...sidecars]), ...loose];
        expect(placed.map(({ path }) => path).toSorted()).toEqual(all.toSorted());
        const bytes = clips.reduce((sum, clip) => sum + clip.bytes, 0) + loose.reduce((sum, { size }) => sum + size, 0);
        expect(bytes).toBe(all.length * 100);
        expect(new Set(clips.map(({ unit }) => unit)).size).toBe(clips.length);
      }),
    );
  });

  test('grouping what was grouped changes nothing', () => {
    fc.assert(
      fc.property(paths, (all) => {
        const first = group(all);
        const again = Object.values(
          Object.groupBy(
            [...first.clips.flatMap(({ essence, sidecars }) => [...essence, ...sidecars]), ...first.loose],
            ({ unit }) => unit,
          ),
        ).map((files) => groupUnit(files ?? []));
        expect(again.flatMap(({ clips }) => clips.map(({ unit, kind }) => [unit, kind])).toSorted()).toEqual(
          first.clips.map(({ unit, kind }) => [unit, kind]).toSorted(),
        );
      }),
    );
  });
});
