import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { joinTakes } from '../../../src/core/intake/join.ts';
import type { JoinCandidate } from '../../../src/core/intake/join-candidate.ts';
import type { CardPlaylist, CardRelation } from '../../../src/core/intake/join-card.ts';
import { clipAt, PICTURE, soundAt, splitAt } from './join-clips.ts';

const lists = (known: { playlists?: CardPlaylist[]; relations?: CardRelation[] }) => ({
  ...{ playlists: [], relations: [] },
  ...known,
});

describe('one material package', () => {
  // A unique material identifier has 32 bytes (SMPTE ST 330).
  const umid = '060a2b340101010501010d2013'.padEnd(64, '7');
  const picture = clipAt('mxf/00A.V1.mxf', { ties: { materialPackage: umid }, facts: PICTURE });
  const sound = (name: string) => clipAt(`mxf/${name}`, { ties: { materialPackage: umid }, facts: { audioTracks: 1 } });

  test('picture and sound of an OP-Atom take, the picture first', () => {
    expect(joinTakes([sound('00A.A2.mxf'), sound('00A.A1.mxf'), picture, clipAt('mxf/other.mxf')])).toEqual([
      {
        units: ['mxf/00A.V1.mxf', 'mxf/00A.A1.mxf', 'mxf/00A.A2.mxf'],
        how: 'tracks',
        reason: 'one-material-package',
        missing: [],
      },
    ]);
  });

  test.each([
    ['two pictures: versions or copies', [picture, { ...picture, unit: 'b', clip: { ...picture.clip, name: 'b' } }]],
    ['a copy by its name', [picture, clipAt('mxf/00A.V1 copy.mxf', { ties: { materialPackage: umid } })]],
    ['one name in two folders', [sound('A1.mxf'), { ...sound('A1.mxf'), unit: 'elsewhere/A1.mxf' }]],
    [
      'a proxy is no track of footage',
      [picture, { ...sound('A1.mxf'), clip: { ...sound('A1.mxf').clip, kind: 'proxy' } }],
    ],
    [
      'an identifier of zeros is none',
      [picture, sound('A1.mxf')].map((each) => ({ ...each, ties: { ...each.ties, materialPackage: '0'.repeat(64) } })),
    ],
  ] satisfies [string, JoinCandidate[]][])('%s', (_name, candidates) => {
    expect(joinTakes(candidates)).toEqual([]);
  });
});

describe('AVCHD playlists', () => {
  const folder = 'Card 2/AVCHD/BDMV';
  const stream = (number: string) => clipAt(`${folder}/STREAM/${number}.MTS`, { facts: PICTURE });
  const item = (clip: string, begins: 'list' | 'recording' | 'continuation') => ({ clip, begins });
  const long = [
    ...[item('00000', 'list'), item('00001', 'recording'), item('00002', 'continuation')],
    item('00003', 'continuation'),
  ];
  const units = (...numbers: string[]) => numbers.map((number) => `${folder}/STREAM/${number}.MTS`);

  test('a recording goes on in the next stream', () => {
    const all = ['00000', '00001', '00002', '00003'].map(stream);
    expect(joinTakes(all, lists({ playlists: [{ folder, items: long }] }))).toEqual([
      { units: units('00001', '00002', '00003'), how: 'spans', reason: 'playlist-continuation', missing: [] },
    ]);
  });

  test('what is not there yet is named, and the set grows when it comes', () => {
    const known = lists({ playlists: [{ folder, items: long }] });
    expect(joinTakes([stream('00003'), stream('00001')], known)).toMatchObject([
      { units: units('00001', '00003'), missing: ['00002'] },
    ]);
    expect(joinTakes([stream('00001')], known)).toEqual([]);
  });

  test('lists that agree are one; lists that do not prove nothing', () => {
    const part = { folder, items: [item('00002', 'list'), item('00003', 'continuation')] };
    const all = ['00001', '00002', '00003'].map(stream);
    expect(joinTakes(all, lists({ playlists: [{ folder, items: long }, part] }))).toMatchObject([
      { units: units('00001', '00002', '00003') },
    ]);
    const against = { folder, items: [item('00001', 'list'), item('00002', 'recording')] };
    expect(joinTakes(all, lists({ playlists: [{ folder, items: long }, against] }))).toMatchObject([
      { units: units('00002', '00003') },
    ]);
    const other = { folder, items: [item('00001', 'list'), item('00003', 'continuation')] };
    expect(joinTakes(all, lists({ playlists: [{ folder, items: long }, other] }))).toEqual([]);
  });

  test('the list of another card says nothing', () => {
    const all = ['00001', '00002'].map(stream);
    expect(joinTakes(all, lists({ playlists: [{ folder: 'Card 3/AVCHD/BDMV', items: long }] }))).toEqual([]);
  });
});

describe('P2 clips that name each other', () => {
  const relation = (unit: string, more: Partial<CardRelation>): CardRelation => ({
    ...{ unit, clip: `id-${unit}`, top: null, previous: null, next: null, offset: null, length: null },
    ...more,
  });
  const all = ['0001AB', '0002CD', '0003EF'].map((unit) => clipAt(unit, { facts: PICTURE }));
  const top = 'id-0001AB';
  const good = [
    relation('0001AB', { top, next: 'id-0002CD', offset: 0, length: 100 }),
    relation('0002CD', { top, previous: 'id-0001AB', next: 'id-0003EF', offset: 100, length: 50 }),
    relation('0003EF', { top, previous: 'id-0002CD', offset: 150, length: 10 }),
  ];

  test('are one recording, in order', () => {
    expect(joinTakes(all, lists({ relations: good }))).toEqual([
      { units: ['0001AB', '0002CD', '0003EF'], how: 'spans', reason: 'card-relation', missing: [] },
    ]);
  });

  test('one that is on another card is told as missing', () => {
    const [one, , three] = good;
    const two = relation('0002CD', { previous: 'id-0001AB', next: 'id-0009ZZ' });
    expect(joinTakes(all, lists({ relations: [one, two, three].filter((each) => each !== undefined) }))).toMatchObject([
      { units: ['0001AB', '0002CD'], missing: ['id-0009ZZ'] },
    ]);
  });

  test('an identifier that two have says nothing of either', () => {
    const copied = relation('0004GH', { previous: 'id-0001AB', next: 'id-0003EF' });
    const twice = [...good, { ...copied, clip: 'id-0002CD' }];
    const found = joinTakes([...all, clipAt('0004GH', { facts: PICTURE })], lists({ relations: twice }));
    expect(found).toEqual([]);
  });

  test.each([
    ['another start of the shot', relation('0002CD', { top: 'id-0002CD', previous: 'id-0001AB' })],
    ['another one before', relation('0002CD', { previous: 'id-0007' })],
    ['a gap in between', relation('0002CD', { previous: 'id-0001AB', offset: 120 })],
  ])('%s: not joined', (_name, second) => {
    const first = relation('0001AB', { top, next: 'id-0002CD', offset: 0, length: 100 });
    const joins = joinTakes(all, lists({ relations: [first, second] }));
    expect(joins.flatMap(({ units }) => units)).not.toContain('0002CD');
  });
});

describe('sound takes', () => {
  // iXML (gallery.co.uk): FAMILY_UID is shared by the files of one recording; TimeReference: EBU Tech 3285.
  const at = { scene: '12A', take: '3', timeReference: 1_728_000_000 };

  test('one family', () => {
    const files = ['A101_1_1.WAV', 'A101_1_2.WAV'].map((path) => soundAt(path, { family: 'F1', timeReference: 5 }));
    expect(joinTakes([...files, soundAt('A101_2.WAV', { family: 'F2', timeReference: 5 })])).toEqual([
      { units: ['A101_1_1.WAV', 'A101_1_2.WAV'], how: 'tracks', reason: 'one-sound-family', missing: [] },
    ]);
  });

  test('one scene, take, start and length', () => {
    const files = ['A101_1_1.WAV', 'A101_1_2.WAV'].map((path) => soundAt(path, at));
    expect(joinTakes(files)).toMatchObject([{ units: ['A101_1_1.WAV', 'A101_1_2.WAV'], reason: 'one-sound-take' }]);
  });

  test.each([
    ['another take', { ...at, take: '4' }, 60],
    ['another start', { ...at, timeReference: 1_728_000_001 }, 60],
    ['another length', at, 60.01],
    ['a length that nobody knows', at, null],
    ['another family', { ...at, family: 'F2' }, 60],
    ['no scene', { ...at, scene: null }, 60],
  ])('%s: not joined', (_name, ties, seconds) => {
    expect(joinTakes([soundAt('A101_1.WAV', { ...at, family: 'F1' }), soundAt('A101_2.WAV', ties, seconds)])).toEqual(
      [],
    );
  });

  test('a family that does not begin at once, or whose takes differ, is not joined', () => {
    const one = soundAt('a.wav', { family: 'F1', timeReference: 5, take: '1' });
    expect(joinTakes([one, soundAt('b.wav', { family: 'F1', timeReference: 6, take: '1' })])).toEqual([]);
    expect(joinTakes([one, soundAt('b.wav', { family: 'F1', timeReference: 5, take: '2' })])).toEqual([]);
  });

  test('a recording of several files: each begins on the next sample', () => {
    const rate = 48_000;
    const file = (path: string, index: number, off = 0) =>
      soundAt(path, { scene: '1', take: '1', timeReference: 1_000_000 + index * 60 * rate + off });
    expect(joinTakes([file('c.wav', 2), file('a.wav', 0), file('b.wav', 1)])).toEqual([
      { units: ['a.wav', 'b.wav', 'c.wav'], how: 'spans', reason: 'sound-goes-on', missing: [] },
    ]);
    expect(joinTakes([file('a.wav', 0), file('b.wav', 1, 49)])).toEqual([]);
    // The one between is missing, or the rate is not known: they do not go on.
    expect(joinTakes([file('a.wav', 0), file('c.wav', 2)])).toEqual([]);
    expect(joinTakes([file('a.wav', 0), { ...file('b.wav', 1), sampleRate: null }])).toEqual([]);
  });
});

// Split sizes and gapless timecode: common practice, no source.
describe('split recordings without a playlist', () => {
  const first = splitAt('100MEDIA/DJI_0007.MP4', '10:00:00:00', 600);
  const second = splitAt('100MEDIA/DJI_0008.MP4', '10:10:00:00', 600);
  const last = splitAt('100MEDIA/DJI_0009.MP4', '10:20:00:00', 30, { bytes: 2e8 });

  test('next number, next frame, and a file that ended at 4 GB', () => {
    expect(joinTakes([last, first, second])).toEqual([
      { units: [first.unit, second.unit, last.unit], how: 'spans', reason: 'gapless-split', missing: [] },
    ]);
  });

  test.each([2 * 2 ** 30, 4e9, 3.9e9, 4 * 2 ** 30 - 1, 12e9, 16 * 2 ** 30])('%d bytes are a split size', (bytes) => {
    expect(
      joinTakes([splitAt('DJI_0007.MP4', '10:00:00:00', 600, { bytes }), splitAt('DJI_0008.MP4', '10:10:00:00', 1)]),
    ).toHaveLength(1);
  });

  test.each([1e9, 3.5e9, 5e9, 8e9])('%d bytes are none: timecode that runs while recording is gapless too', (bytes) => {
    expect(
      joinTakes([splitAt('DJI_0007.MP4', '10:00:00:00', 600, { bytes }), splitAt('DJI_0008.MP4', '10:10:00:00', 1)]),
    ).toEqual([]);
  });

  test.each([
    ['one frame of tolerance', '10:10:00:01', 1],
    ['two frames later', '10:10:00:02', 0],
    ['one frame before', '10:09:59:24', 1],
  ])('%s', (_name, start, joins) => {
    expect(joinTakes([first, splitAt('100MEDIA/DJI_0008.MP4', start, 10)])).toHaveLength(joins);
  });

  test('over midnight', () => {
    const late = splitAt('DJI_0007.MP4', '23:55:00:00', 600);
    expect(joinTakes([late, splitAt('DJI_0008.MP4', '00:05:00:00', 10)])).toHaveLength(1);
  });

  // SMPTE ST 12-1: ten minutes of drop-frame labels are 17,982 frames.
  test('drop-frame', () => {
    const facts = { frameRate: { num: 30_000, den: 1001 }, frames: 17_982 };
    const [one, two] = [
      splitAt('DJI_0007.MP4', '10:00:00;00', 600, { facts }),
      splitAt('DJI_0008.MP4', '10:10:00;00', 600, { facts }),
    ];
    expect(joinTakes([one, two])).toHaveLength(1);
    const counted = splitAt('DJI_0008.MP4', '10:10:00:00', 600, { facts });
    expect(joinTakes([one, counted])).toEqual([]);
  });

  test('labels of another count are no time that follows', () => {
    const facts = { frameRate: { num: 30_000, den: 1001 }, frames: 100 };
    const one = splitAt('DJI_0007.MP4', '00:00:00;00', 600, { facts });
    expect(joinTakes([one, splitAt('DJI_0008.MP4', '00:00:03;10', 600, { facts })])).toHaveLength(1);
    expect(joinTakes([one, splitAt('DJI_0008.MP4', '00:00:03:10', 600, { facts })])).toEqual([]);
  });

  test.each([
    ['another codec', { facts: { codec: 'HEVC' } }],
    ['another raster', { facts: { width: 1920 } }],
    ['another rate', { facts: { frameRate: { num: 50, den: 1 } } }],
    ['another reel', { facts: { reel: 'B002' } }],
    ['another camera', { facts: { camera: 'B' } }],
    ['a rate that varies', { facts: { variableRate: true } }],
    ['no timecode', { facts: { startTimecode: null } }],
    ['another standing', { kind: 'render' as const }],
  ])('%s: not joined', (_name, given) => {
    expect(joinTakes([first, splitAt('100MEDIA/DJI_0008.MP4', '10:10:00:00', 600, given)])).toEqual([]);
  });

  test.each([
    '100MEDIA/DJI_0009.MP4',
    '101MEDIA/DJI_0008.MP4',
    '100MEDIA/DJX_0008.MP4',
    '100MEDIA/DJI_0008.MOV',
    '100MEDIA/DJI_00008.MP4',
  ])('%s is not the next file', (path) => {
    expect(joinTakes([first, splitAt(path, '10:10:00:00', 600)])).toEqual([]);
  });

  test('two that could be next are both left', () => {
    expect(joinTakes([first, second, splitAt('100MEDIA/dji_0008.MP4', '10:10:00:00', 600)])).toEqual([]);
  });

  test.each([
    ['begun when the first ended', '2027-03-04T10:10:01Z', 1],
    ['with the time of the whole recording', '2027-03-04T10:00:00Z', 1],
    ['after a pause', '2027-03-04T10:14:00Z', 0],
    ['the day after', '2027-03-05', 1],
  ])('recording times: %s', (_name, recordedAt, joins) => {
    const dated = (at: string) => ({ facts: { recordedAt: at, recordedAtBasis: 'container' as const } });
    const one = splitAt('DJI_0007.MP4', '10:00:00:00', 600, dated('2027-03-04T10:00:00Z'));
    expect(joinTakes([one, splitAt('DJI_0008.MP4', '10:10:00:00', 600, dated(recordedAt))])).toHaveLength(joins);
  });
});

// A disk recorder's manual: a new folder every 20,000 frames, Clip_023_000, Clip_023_001; the numbers go on.
describe('folders that a recorder broke', () => {
  const pad = (number: number) => String(number).padStart(6, '0');
  const frames = (folder: string, first: number, last: number, prefix = 'f_') =>
    clipAt(`Day 1/${folder}/${prefix}${pad(first)}.dng`, {
      name: `${prefix}[${pad(first)}-${pad(last)}].dng`,
      facts: PICTURE,
    });
  const first = frames('Clip_023_000', 0, 19_999);

  test('are one clip, whatever the frames are called', () => {
    const [second, third] = [frames('Clip_023_001', 20_000, 39_999), frames('Clip_023_002', 40_000, 40_100)];
    expect(joinTakes([third, first, second])).toEqual([
      { units: [first.unit, second.unit, third.unit], how: 'spans', reason: 'frames-go-on', missing: [] },
    ]);
    const named = ['Clip_023_000', 'Clip_023_001'].map((folder, at) =>
      frames(folder, at * 20_000 + 1, (at + 1) * 20_000, `${folder}_`),
    );
    expect(joinTakes(named)).toHaveLength(1);
    // Any first number, and a first folder that has lost its first frames.
    expect(joinTakes([frames('C_000', 500, 20_499), frames('C_001', 20_500, 20_600)])).toHaveLength(1);
    expect(joinTakes([frames('C_000', 7, 20_000), frames('C_001', 20_001, 20_600)])).toHaveLength(1);
  });

  test.each([
    ['a frame is missing in between', frames('Clip_023_001', 20_001, 30_000)],
    ['the numbers begin anew', frames('Clip_023_001', 0, 300)],
    ['a folder is missing', frames('Clip_023_002', 20_000, 30_000)],
    ['other names', frames('Clip_023_001', 20_000, 30_000, 'g_')],
    ['another clip', frames('Clip_024_001', 20_000, 30_000)],
    ['shorter numbers', clipAt('Day 1/Clip_023_001/f_20000.dng', { name: 'f_[20000-30000].dng', facts: PICTURE })],
    ['elsewhere', { ...clipAt('Day 2/Clip_023_001/f_020000.dng', { name: 'f_[020000-030000].dng', facts: PICTURE }) }],
  ])('%s: not joined', (_name, second) => {
    expect(joinTakes([first, second])).toEqual([]);
  });

  test('a folder that was not full did not make the recorder begin another', () => {
    expect(joinTakes([frames('shot_010', 1001, 1100), frames('shot_011', 1101, 1200)])).toEqual([]);
    expect(joinTakes([frames('shot_010', 25_000, 26_000), frames('shot_011', 26_001, 27_000)])).toEqual([]);
  });
});

// Trees of film scans in public reports: REEL/REEL_DPX/name_01086400.dpx + REEL.wav; title/dpx/title_0086880.dpx.
describe('sound of a frame sequence', () => {
  const facts = { ...PICTURE, frameRate: { num: 24, den: 1 }, durationSeconds: 100, frames: 2400 };
  const frames = clipAt('title/dpx/title_0086880.dpx', { name: 'title_[0086880-0089279].dpx', facts });

  test.each([
    ['title/title.wav', 100, 1],
    ['title/dpx/title.wav', 100.04, 1],
    ['title/title.wav', 100.1, 0],
    ['title/title.wav', null, 0],
    ['title/other.wav', 100, 0],
    ['elsewhere/title.wav', 100, 0],
    ['title.wav', 100, 0],
  ])('%s of %d s: %d', (path, seconds, joins) => {
    const found = joinTakes([soundAt(path, {}, seconds), frames]);
    expect(found).toHaveLength(joins);
    if (joins > 0)
      expect(found).toMatchObject([{ units: [frames.unit, path], how: 'tracks', reason: 'sound-of-frames' }]);
  });

  test('two sounds to choose from: neither', () => {
    expect(joinTakes([frames, soundAt('title/title.wav', {}, 100), soundAt('title/dpx/title.wav', {}, 100)])).toEqual(
      [],
    );
  });
});

describe('properties', () => {
  const umid = fc.constantFrom('aa', 'bb', null);
  const mxf = fc.tuple(fc.constantFrom('V1', 'A1', 'A2'), umid).map(([track, materialPackage]) =>
    clipAt(`mxf/${track}-${materialPackage}.mxf`, {
      ties: { materialPackage },
      facts: track === 'V1' ? PICTURE : { audioTracks: 1 },
    }),
  );
  const sound = fc
    .tuple(fc.integer({ min: 1, max: 4 }), fc.constantFrom('F1', 'F2', null), fc.constantFrom(0, 2_880_000, 5_760_000))
    .map(([number, family, timeReference]) =>
      soundAt(`A10${number}-${family}-${timeReference}.wav`, { family, scene: '1', take: '1', timeReference }),
    );
  const split = fc
    .tuple(fc.integer({ min: 0, max: 5 }), fc.constantFrom(4e9, 1e9))
    .map(([number, bytes]) => splitAt(`DJI_000${number}.MP4`, `10:${number}0:00:00`, 600, { bytes }));
  const candidates = fc.uniqueArray(fc.oneof(mxf, sound, split), { maxLength: 14, selector: ({ unit }) => unit });

  test('any order of candidates gives the same joins, and a unit is in one at most', () => {
    fc.assert(
      fc.property(
        candidates.chain((all) => fc.tuple(fc.constant(all), fc.shuffledSubarray(all, { minLength: all.length }))),
        ([all, shuffled]) => {
          const joins = joinTakes(all);
          expect(joinTakes(shuffled)).toEqual(joins);
          const units = joins.flatMap((join) => join.units);
          expect(new Set(units).size).toBe(units.length);
          for (const join of joins) expect(join.units.length).toBeGreaterThan(1);
        },
      ),
    );
  });

  test('a join is the same when its own members are looked at alone', () => {
    fc.assert(
      fc.property(candidates, (all) => {
        for (const join of joinTakes(all)) {
          expect(joinTakes(all.filter(({ unit }) => join.units.includes(unit)))).toEqual([join]);
        }
      }),
    );
  });

  test('a split recording grows as its files come, whatever the order', () => {
    const files = [0, 1, 2, 3, 4].map((number) => splitAt(`DJI_000${number}.MP4`, `10:${number}0:00:00`, 600));
    fc.assert(
      fc.property(fc.shuffledSubarray(files, { minLength: files.length }), (order) => {
        let before: string[][] = [];
        for (const [at] of order.entries()) {
          const joins = joinTakes(order.slice(0, at + 1)).map(({ units }) => units);
          for (const set of before) expect(joins.some((units) => set.every((unit) => units.includes(unit)))).toBe(true);
          before = joins;
        }
        expect(before).toEqual([files.map(({ unit }) => unit)]);
      }),
    );
  });
});
