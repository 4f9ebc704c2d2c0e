import { describe, expect, test } from 'vitest';
import {
  arrivedPaths,
  expectedPlaces,
  isComplete,
  lackingFiles,
  reconcile,
  reconcileAll,
  stepProgress,
} from '../../../src/core/cards/reconcile.ts';
import { NOON, SECOND } from '../samples.ts';
import {
  cardOf,
  claimOf,
  copiesOf,
  copyOf,
  countsOf,
  fileOf,
  HOUR,
  MB,
  manifestOf,
  reconcileAgainst,
  verdictsOf,
} from './arrived.ts';

/** A small card: two takes with their sidecars, a thumbnail. */
const TAKES = [
  fileOf('PRIVATE/M4ROOT/CLIP/C0001.MP4', 4000 * MB),
  fileOf('PRIVATE/M4ROOT/CLIP/C0001M01.XML', 2048),
  fileOf('PRIVATE/M4ROOT/CLIP/C0002.MP4', 1200 * MB),
  fileOf('PRIVATE/M4ROOT/CLIP/C0002M01.XML', 2048),
  fileOf('PRIVATE/M4ROOT/THMBNL/C0001T01.JPG', 9000),
];
const CARD = cardOf('SM-A01', TAKES);
const AT = 'Saltmarsh/Day 3/Card A';

/** Frames of one size, as a camera that records DNG numbers them anew on every card. */
function frames(shiftMs: number) {
  return Array.from({ length: 60 }, (_, index) =>
    fileOf(`CLIP/frame_${String(index).padStart(6, '0')}.dng`, 8 * MB, NOON - 5 * HOUR + shiftMs + index * 40),
  );
}

describe('a card beside its copy', () => {
  test('all of it arrived, and where', () => {
    const [result] = reconcileAgainst([CARD], copiesOf(CARD, AT));
    expect(countsOf(result)).toEqual({ arrived: 5 });
    expect(result?.deliveries).toEqual([{ volume: 'stripe', folder: AT, files: 5 }]);
    expect(result?.sums).toMatchObject({
      footage: { arrived: { files: 2, bytes: 5200 * MB }, missing: { files: 0, bytes: 0 } },
      companion: { arrived: { files: 2, bytes: 4096 } },
      housekeeping: { arrived: { files: 1, bytes: 9000 } },
    });
    expect(result && isComplete(result)).toBe(true);
  });

  test('a copy that died between files: what is missing is named, footage first', () => {
    const [result] = reconcileAgainst([CARD], copiesOf(CARD, AT).slice(0, 2));
    expect(result && lackingFiles(result, false).map(({ file, role }) => [file.path, role])).toEqual([
      ['PRIVATE/M4ROOT/CLIP/C0002.MP4', 'footage'],
      ['PRIVATE/M4ROOT/CLIP/C0002M01.XML', 'companion'],
    ]);
    expect(result && isComplete(result)).toBe(false);
  });

  test.each([
    ['a copy that kept no times', { mtimeMs: NOON + 2 * HOUR }],
    ['a copy made where another zone holds', { mtimeMs: NOON - 3 * HOUR + 5.5 * HOUR }],
    ['times to 2 s, as FAT keeps them', { mtimeMs: NOON - 3 * HOUR + 2 * SECOND }],
    ['another volume', { volume: 'stripe-b' }],
  ])('%s', (_, over) => {
    const [result] = reconcileAgainst([CARD], copiesOf(CARD, AT, over));
    expect(countsOf(result)).toEqual({ arrived: 5 });
  });

  test('names in another case, and accents written the other way', () => {
    const card = cardOf('c', [fileOf('DCIM/100ABCDE/caf\u00e9.MOV', 2 * MB), fileOf('DCIM/100ABCDE/B.MOV', 3 * MB)]);
    const copies = [copyOf('x/dcim/100abcde/cafe\u0301.mov', 2 * MB), copyOf('x/dcim/100abcde/b.mov', 3 * MB)];
    const result = reconcile(card, [copies.slice(0, 1), copies.slice(1)]);
    expect(countsOf(result)).toEqual({ arrived: 2 });
    expect(result.deliveries).toEqual([{ volume: 'stripe', folder: 'x', files: 2 }]);
  });

  test('a flat copy, and one sorted into folders by clip', () => {
    const flat = TAKES.map(({ path, size, mtimeMs }) =>
      copyOf(`Saltmarsh/Rushes/${path.split('/').at(-1)}`, size ?? 0, { mtimeMs: mtimeMs ?? 0 }),
    );
    expect(countsOf(reconcileAgainst([CARD], flat)[0])).toEqual({ arrived: 5 });
    const sorted = [copyOf('Saltmarsh/Heron/C0001.MP4', 4000 * MB), copyOf('Saltmarsh/Otter/C0002.MP4', 1200 * MB)];
    expect(verdictsOf(reconcileAgainst([CARD], sorted)[0])).toMatchObject({
      'PRIVATE/M4ROOT/CLIP/C0001.MP4': 'arrived',
      'PRIVATE/M4ROOT/CLIP/C0002.MP4': 'arrived',
    });
  });

  test('a copy begun in one place and made in another', () => {
    const begun = copiesOf(CARD, 'Saltmarsh/wrong').slice(0, 1);
    const [result] = reconcileAgainst([CARD], [...begun, ...copiesOf(CARD, AT)]);
    expect(result?.deliveries).toEqual([{ volume: 'stripe', folder: AT, files: 5 }]);
  });

  test('a ready copy elsewhere counts before one that is arriving', () => {
    const arriving = copiesOf(CARD, 'Saltmarsh/second', { state: 'arriving' });
    const ready = copiesOf(CARD, AT).slice(0, 3);
    expect(countsOf(reconcileAgainst([CARD], [...arriving, ...ready])[0])).toEqual({ arrived: 3, arriving: 2 });
  });
});

describe('where a copy is taken from', () => {
  test('a ready copy counts where the main one is arriving', () => {
    const arriving = copiesOf(CARD, 'Saltmarsh/second', { state: 'arriving' });
    const ready = copiesOf(CARD, AT).slice(0, 1);
    expect(countsOf(reconcileAgainst([CARD], [...arriving, ...ready])[0])).toEqual({ arrived: 1, arriving: 4 });
  });

  test('of files with one name the one whose whole path is there', () => {
    const card = cardOf('c', [fileOf('DCIM/100ABCDE/x.MOV', 5 * MB), fileOf('x.MOV', 5 * MB)]);
    const later = copyOf('Day 1/x.MOV', 5 * MB);
    expect(verdictsOf(reconcileAgainst([card], [later])[0])).toEqual({
      'DCIM/100ABCDE/x.MOV': 'missing',
      'x.MOV': 'arrived',
    });
  });

  test('what is left of a folder is weighed again', () => {
    const clips = Array.from({ length: 13 }, (_, index) =>
      fileOf(`DCIM/100ABCDE/AB${index + 10}.MP4`, (100 + index) * MB),
    );
    const card = cardOf('c', clips);
    const all = (folder: string) => copiesOf(card, folder);
    const known = [
      ...all('one').slice(0, 11),
      ...all('two').slice(0, 9),
      ...all('two').slice(11, 12),
      ...all('x').slice(11),
    ];
    expect(reconcileAgainst([card], known)[0]?.deliveries).toEqual([
      { volume: 'stripe', folder: 'one', files: 11 },
      { volume: 'stripe', folder: 'x', files: 2 },
    ]);
  });
});

describe('what lies at the place of a file', () => {
  const rest = copiesOf(CARD, AT).filter(({ path }) => !path.endsWith('C0002.MP4'));
  const there = `${AT}/PRIVATE/M4ROOT/CLIP/C0002.MP4`;

  test('another size: it differs, with both sizes', () => {
    const [result] = reconcileAgainst([CARD], [...rest, copyOf(there, 900 * MB)]);
    const differs = result?.files.find(({ verdict }) => verdict === 'differs');
    expect(differs).toMatchObject({ file: { size: 1200 * MB }, found: { path: there, size: 900 * MB } });
  });

  test('smaller and not ready: it is arriving; when the card is gone, no more will come', () => {
    const [result] = reconcileAgainst([CARD], [...rest, copyOf(there, 900 * MB, { state: 'arriving' })]);
    expect(countsOf(result)).toEqual({ arrived: 4, arriving: 1 });
    expect(result && lackingFiles(result, false)).toEqual([]);
    expect(result && lackingFiles(result, true)).toMatchObject([{ found: { size: 900 * MB } }]);
  });

  test('larger and not ready: it differs', () => {
    const [result] = reconcileAgainst([CARD], [...rest, copyOf(there, 1300 * MB, { state: 'arriving' })]);
    expect(countsOf(result)).toEqual({ arrived: 4, differs: 1 });
  });

  test('of full size and not looked through: arriving, and nothing is lacking', () => {
    const [result] = reconcileAgainst([CARD], [...rest, copyOf(there, 1200 * MB, { state: 'arriving' })]);
    expect(result && lackingFiles(result, true)).toEqual([]);
  });

  test('refused as it is: there by name and size, but not arrived', () => {
    const [result] = reconcileAgainst([CARD], [...rest, copyOf(there, 1200 * MB, { state: 'refused' })]);
    expect(countsOf(result)).toEqual({ arrived: 4, refused: 1 });
    expect(result && isComplete(result)).toBe(false);
  });

  test('the right size, but beyond the number of candidates that the catalogue gives', () => {
    const card = cardOf('f', [...frames(0), ...TAKES]);
    const others = Array.from({ length: 30 }, (_, index) => copiesOf(cardOf('', frames(-300 * HOUR)), `Old/${index}`));
    const known = [...others.flat(), ...copiesOf(card, AT)];
    expect(countsOf(reconcileAgainst([card], known, 20)[0])).toEqual({ arrived: card.files.length });
  });

  test('only places that are of use are asked for', () => {
    expect(expectedPlaces([claimOf(CARD, rest)])).toEqual([{ volume: 'stripe', path: there }]);
    expect(expectedPlaces([claimOf(CARD, copiesOf(CARD, AT))])).toEqual([]);
    expect(expectedPlaces([claimOf(CARD, [])])).toEqual([]);
    // A flat copy of one folder says nothing of where the others went.
    const flat = copyOf('Rushes/C0001.MP4', 4000 * MB);
    expect(expectedPlaces([claimOf(CARD, [flat])]).map(({ path }) => path)).toEqual([
      'Rushes/C0001M01.XML',
      'Rushes/C0002.MP4',
      'Rushes/C0002M01.XML',
    ]);
  });
});

describe('one name and size, two cards', () => {
  const [first, second] = [cardOf('A', frames(0)), cardOf('B', frames(HOUR + 7777))];

  test('frames of one size: the copy of the other card covers nothing', () => {
    const [one, other] = reconcileAgainst([first, second], copiesOf(first, 'Day 1/A'));
    expect(countsOf(one)).toEqual({ arrived: 60 });
    expect(countsOf(other)).toEqual({ missing: 60 });
  });

  test('and when both are there each has its own', () => {
    const known = [...copiesOf(first, 'Day 1/A'), ...copiesOf(second, 'Day 1/B').slice(0, 40)];
    const [other, one] = reconcileAgainst([second, first], known);
    expect(countsOf(one)).toEqual({ arrived: 60 });
    expect(countsOf(other)).toEqual({ arrived: 40, missing: 20 });
    expect(other?.deliveries).toEqual([{ volume: 'stripe', folder: 'Day 1/B', files: 40 }]);
  });

  test('times tell whose the copies are, where another card could claim as many', () => {
    const [own, larger] = [cardOf('z', frames(0).slice(0, 40)), cardOf('b', frames(-HOUR - 7777))];
    const [one, other] = reconcileAgainst([own, larger], copiesOf(own, 'Day 1/A'));
    expect([countsOf(one), countsOf(other)]).toEqual([{ arrived: 40 }, { missing: 60 }]);
  });

  test('frames of the day before, a few of them touched since, cover nothing', () => {
    const today = cardOf('t', frames(0));
    const before = copiesOf(cardOf('y', frames(-24 * HOUR - 7777)), AT);
    const touched = before.map((copy, index) => (index < 5 ? { ...copy, mtimeMs: NOON + 7777 } : copy));
    expect(countsOf(reconcileAgainst([today], touched)[0])).toEqual({ missing: 60 });
  });

  test('a sidecar of the same name and size alone is no evidence', () => {
    expect(countsOf(reconcileAgainst([CARD], [copyOf('Other/C0001M01.XML', 2048)])[0])).toEqual({ missing: 5 });
  });

  test('without times the delivery with more of a card has the files', () => {
    const bare = (id: string, count: number) =>
      cardOf(
        id,
        frames(0)
          .slice(0, count)
          .map((file) => ({ ...file, mtimeMs: null })),
      );
    const [less, more] = [bare('a', 30), bare('b', 60)];
    const [one, other] = reconcileAgainst([less, more], copiesOf(more, 'Day 1/B'));
    expect(countsOf(other)).toEqual({ arrived: 60 });
    expect(countsOf(one)).toEqual({ missing: 30 });
  });

  test('a card filled anew under the same names: sidecars of one length and older frames are of the day before', () => {
    const yesterday = cardOf(
      'y',
      [...TAKES, ...frames(0)].map((file) => ({ ...file, mtimeMs: (file.mtimeMs ?? 0) - 24 * HOUR - 7777 })),
    );
    const today = cardOf('t', [
      ...TAKES.map((file) => ({ ...file, size: (file.size ?? 0) + (file.path.endsWith('MP4') ? 1 : 0) })),
      ...frames(0),
    ]);
    expect(countsOf(reconcileAgainst([today], copiesOf(yesterday, AT))[0])).toEqual({ missing: today.files.length });
    const late = copiesOf(yesterday, AT, { mtimeMs: NOON - 20 * HOUR - 7777 });
    expect(countsOf(reconcileAgainst([today], late)[0])).toEqual({ missing: today.files.length });
  });

  test('one take of the same name and size from the day before is no copy', () => {
    const old = copyOf('Day 1/C0002.MP4', 1200 * MB, { mtimeMs: NOON - 30 * HOUR });
    expect(countsOf(reconcileAgainst([CARD], [old])[0])).toEqual({ missing: 5 });
  });

  test('but a camera whose clock runs ahead has its copies: too many sizes agree', () => {
    const clips = Array.from({ length: 20 }, (_, index) => fileOf(`DCIM/100ABCDE/AB${index}.MP4`, (100 + index) * MB));
    const copies = copiesOf(cardOf('c', clips), AT, { mtimeMs: NOON - 4 * HOUR - 7777 });
    expect(countsOf(reconcileAgainst([cardOf('c', clips)], copies)[0])).toEqual({ arrived: 20 });
  });

  test('the same card read again later has the same copies', () => {
    const grown = cardOf('A2', [...first.files, fileOf('CLIP/frame_000060.dng', 8 * MB)], { name: 'A' });
    const [one, other] = reconcileAgainst([first, grown], copiesOf(first, 'Day 1/A'));
    expect(countsOf(one)).toEqual({ arrived: 60 });
    expect(countsOf(other)).toEqual({ arrived: 60, missing: 1 });
  });
});

describe('copies under another name', () => {
  test('of the same size, time and extension', () => {
    const renamed = [copyOf('Rushes/day3_heron.mp4', 4000 * MB, { mtimeMs: NOON - 3 * HOUR })];
    const [result] = reconcileAgainst([CARD], renamed);
    expect(verdictsOf(result)['PRIVATE/M4ROOT/CLIP/C0001.MP4']).toBe('arrived-renamed');
    expect(result?.deliveries).toEqual([{ volume: 'stripe', folder: 'Rushes', files: 1 }]);
  });

  test.each([
    ['another extension', 'Rushes/day3_heron.mov', NOON - 3 * HOUR],
    ['another time', 'Rushes/day3_heron.mp4', NOON - 3 * HOUR + 2 * SECOND + 1],
  ])('not of %s', (_, path, mtimeMs) => {
    const result = reconcile(
      CARD,
      TAKES.map((_file, index) => (index === 0 ? [copyOf(path, 4000 * MB, { mtimeMs })] : [])),
    );
    expect(countsOf(result)).toEqual({ missing: 5 });
  });

  const tracks = ['Tr1', 'Tr2', 'Tr3'].map((track) => fileOf(`T001/T001_${track}.wav`, 50 * MB));
  const others = ['a', 'b', 'c'].map((name) => copyOf(`Sound/${name}.wav`, 50 * MB, { mtimeMs: NOON - 3 * HOUR }));

  test('several that could be one another: only when there are enough for all', () => {
    expect(countsOf(reconcileAgainst([cardOf('s', tracks)], others)[0])).toEqual({ 'arrived-renamed': 3 });
    expect(countsOf(reconcileAgainst([cardOf('s', tracks)], others.slice(0, 2))[0])).toEqual({ missing: 3 });
  });

  test('not for two cards at once', () => {
    const both = [
      cardOf('s', tracks),
      cardOf(
        'u',
        tracks.map((file) => ({ ...file, path: `x${file.path}` })),
      ),
    ];
    expect(reconcileAgainst(both, others).map(countsOf)).toEqual([{ missing: 3 }, { missing: 3 }]);
  });
});

describe('a manifest', () => {
  const LIST = manifestOf('m', 'Day 3', [fileOf('Clips/A.mov', 5, null), { ...fileOf('B.wav', 7, null), size: null }]);

  test('speaks of places, and of nothing else', () => {
    const known = [copyOf('Day 3/Clips/A.mov', 5), copyOf('Day 3/B.wav', 9), copyOf('Day 4/Clips/A.mov', 5)];
    expect(countsOf(reconcileAgainst([LIST], known)[0])).toEqual({ arrived: 2 });
    expect(countsOf(reconcileAgainst([LIST], known.slice(2))[0])).toEqual({ missing: 2 });
    expect(countsOf(reconcileAgainst([LIST], [{ ...copyOf('Day 3/B.wav', 1), volume: 'stripe-b' }])[0])).toEqual({
      missing: 2,
    });
  });

  test('another size there: it differs, or is arriving', () => {
    expect(verdictsOf(reconcileAgainst([LIST], [copyOf('Day 3/Clips/A.mov', 4)])[0])['Clips/A.mov']).toBe('differs');
    const arriving = copyOf('Day 3/Clips/A.mov', 4, { state: 'arriving' });
    expect(verdictsOf(reconcileAgainst([LIST], [arriving])[0])['Clips/A.mov']).toBe('arriving');
  });

  test('its card and a later list may speak of the same copies', () => {
    const card = cardOf('c', [fileOf('Clips/A.mov', 5), fileOf('Clips/B.mov', 8)]);
    const known = copiesOf(card, 'Day 3');
    const list = manifestOf('m', 'Day 3', card.files);
    const results = reconcileAgainst([list, card, { ...list, id: 'm2' }], known);
    expect(results.map(countsOf)).toEqual([{ arrived: 2 }, { arrived: 2 }, { arrived: 2 }]);
  });
});

describe('over time', () => {
  const whole = reconcileAll([claimOf(CARD, copiesOf(CARD, AT))]);

  test('what had arrived and was taken away is removed, and lacking as what is missing', () => {
    const before = new Set(whole.flatMap(arrivedPaths));
    const [later] = reconcileAll([{ ...claimOf(CARD, []), before }]);
    expect(countsOf(later)).toEqual({ removed: 5 });
    expect(later && isComplete(later)).toBe(false);
    expect(later && lackingFiles(later, false).map(({ role }) => role)).toEqual([
      'footage',
      'footage',
      'companion',
      'companion',
    ]);
    expect(later && arrivedPaths(later)).toEqual([...before]);
  });

  test('what is copied again after it was removed arrives', () => {
    const [first, ...rest] = copiesOf(CARD, AT);
    if (first === undefined) throw new Error('no copy');
    const half = { ...first, size: first.size - 1, state: 'arriving' as const };
    const claim = { ...claimOf(CARD, rest), before: new Set(whole.flatMap(arrivedPaths)) };
    const [again] = reconcileAll([claim], [half]);
    expect(countsOf(again)).toEqual({ arrived: 4, arriving: 1 });
  });

  test('with a gap nothing is complete', () => {
    const [result] = reconcileAgainst([{ ...CARD, gap: 'DCIM cannot be read (EIO)' }], copiesOf(CARD, AT));
    expect(countsOf(result)).toEqual({ arrived: 5 });
    expect(result && isComplete(result)).toBe(false);
  });

  test('since when nothing more has come', () => {
    const [half] = reconcileAll([claimOf(CARD, copiesOf(CARD, AT).slice(0, 3))]);
    if (half === undefined || whole[0] === undefined) throw new Error('no result');
    const first = stepProgress(null, half, NOON);
    expect(stepProgress(first, half, NOON + HOUR).since).toBe(NOON);
    expect(stepProgress(first, whole[0], NOON + HOUR).since).toBe(NOON + HOUR);
    expect(stepProgress(first, half, NOON - HOUR).since).toBe(NOON - HOUR);
  });

  test('a growing copy is progress', () => {
    const growing = (size: number) => {
      const there = copyOf(`${AT}/PRIVATE/M4ROOT/CLIP/C0002.MP4`, size, { state: 'arriving' });
      const [result] = reconcileAgainst([CARD], [...copiesOf(CARD, AT).slice(0, 2), there]);
      if (result === undefined) throw new Error('no result');
      return result;
    };
    const first = stepProgress(null, growing(MB), NOON);
    expect(stepProgress(first, growing(2 * MB), NOON + SECOND).since).toBe(NOON + SECOND);
  });
});
