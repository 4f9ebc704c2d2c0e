import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { CardAssessment } from '../../../src/core/assess/assessment.ts';
import { cardSentence, unseenSentences } from '../../../src/core/present/card-sentences.ts';
import { display } from '../../../src/core/present/escape.ts';
import { cardSnapshot, unseenSnapshot } from '../../../src/core/present/snapshot-cards.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { clearedCard, copiesOfTakes, SAMPLE_CARD, SAMPLE_COPIES, SAMPLE_FOLDER, sampleCard } from '../card-samples.ts';
import { copyOf, fileOf, HOUR, MB, manifestOf } from '../cards/arrived.ts';
import { NOON } from '../samples.ts';

const iso = (instant: number) => isoWithOffset(instant, 'UTC');
const snapshotOf = (card: CardAssessment) => cardSnapshot(card, iso);
const sentenceOf = (card: CardAssessment) => cardSentence(snapshotOf(card), iso(NOON));

describe('one sentence per card', () => {
  test('all of it', () => {
    expect(sentenceOf(sampleCard())).toBe(
      'Card SM-A01 (XAVC (M4ROOT), 11 files, 10.0 GB), mounted at /media/SM-A01: all 11 have arrived at Saltmarsh/Day 3/Card A on stripe by name and size.',
    );
  });

  test('a part: footage, then what goes with it, then the number of the rest', () => {
    expect(sentenceOf(sampleCard(copiesOfTakes(3)))).toBe(
      `Card SM-A01 (XAVC (M4ROOT), 11 files, 10.0 GB), mounted at /media/SM-A01: 6 have arrived at Saltmarsh/Day 3/Card A on stripe by name and size; footage not here: 2 files (M4ROOT/CLIP/C0004.MP4 2.00 GB, M4ROOT/CLIP/C0005.MP4 2.00 GB); beside footage not here: 2 files (M4ROOT/CLIP/C0004M01.XML 2.00 kB, M4ROOT/CLIP/C0005M01.XML 2.00 kB); 1 of the camera's own files not here.`,
    );
  });

  test('nothing yet, and a card that is not in', () => {
    expect(sentenceOf(sampleCard([], { state: 'gone', goneSince: NOON - HOUR }))).toMatch(
      /^Card SM-A01 \(.*\), taken out at 11:00: none of it has arrived; footage not here: 5 files \(/,
    );
    expect(sentenceOf(sampleCard([], { state: 'gone' }))).toMatch(/^Card SM-A01 \(.*\), not in now: none/);
  });

  test('under way, refused, in several folders, under other names', () => {
    const copies = [
      { ...SAMPLE_COPIES[0], state: 'arriving' },
      { ...SAMPLE_COPIES[2], state: 'refused' },
      ...SAMPLE_COPIES.slice(4, 6),
      copyOf('elsewhere/C0004.MP4', 2002 * MB, { mtimeMs: NOON - 3 * HOUR }),
      copyOf(`${SAMPLE_FOLDER}/heron.mp4`, 2003 * MB, { mtimeMs: NOON - 3 * HOUR }),
    ] as typeof SAMPLE_COPIES;
    expect(sentenceOf(sampleCard(copies))).toContain(
      ': 4 have arrived at Saltmarsh/Day 3/Card A on stripe and in 1 other folder by name and size, 1 of them under another name; 1 arriving; 1 there but refused, see the arrivals;',
    );
  });

  test('a list, with a gap', () => {
    const list = manifestOf('m', 'Saltmarsh/Day 3', [{ path: 'A.mov', size: null, mtimeMs: null }]);
    const card = sampleCard(
      [copyOf('Saltmarsh/Day 3/A.mov', 5)],
      { state: 'manifest' },
      { ...list, gap: '2 lines could not be read' },
    );
    expect(sentenceOf(card)).toBe(
      `List Saltmarsh/Day 3/m.mhl on stripe (1 file): its only file that could be read has arrived at Saltmarsh/Day 3 on stripe by name and size. Not all of it could be read: 2 lines could not be read. What of it could not be read is not known.`,
    );
  });

  test('what had arrived and is no longer here is told apart, also of a card that was wholly here', () => {
    expect(sentenceOf(clearedCard(copiesOfTakes(2), copiesOfTakes(3)))).toContain(
      ': 4 have arrived at Saltmarsh/Day 3/Card A on stripe by name and size; footage not here: 2 files (M4ROOT/CLIP/C0004.MP4 2.00 GB, M4ROOT/CLIP/C0005.MP4 2.00 GB); footage that had arrived and is no longer here: 1 file (M4ROOT/CLIP/C0003.MP4 2.00 GB); beside',
    );
    const cleared = clearedCard([], SAMPLE_COPIES, { wasComplete: true });
    expect(sentenceOf(cleared)).toContain(
      ': none of it is here; all its footage was here once; footage that had arrived and is no longer here: 5 files (M4ROOT/CLIP/C0001.MP4 2.00 GB, ',
    );
    expect(snapshotOf(cleared)).toMatchObject({
      complete: false,
      wasComplete: true,
      missingFootage: 5,
      removedFootage: 5,
      missingHousekeeping: 1,
    });
  });

  test('as last seen while the volume is not live', () => {
    const away = sampleCard(SAMPLE_COPIES, { notLive: [{ volume: 'stripe', state: 'away' }] });
    expect(sentenceOf(away)).toContain(
      'all 11 have arrived at Saltmarsh/Day 3/Card A on stripe by name and size, as last seen; stripe is away now.',
    );
    expect(snapshotOf(away)).toMatchObject({ complete: null, notLive: [{ volume: 'stripe', state: 'away' }] });
    const starting = sampleCard(SAMPLE_COPIES, { notLive: [{ volume: 'stripe', state: 'starting' }] });
    expect(sentenceOf(starting)).toContain(', as last seen; stripe is read for the first time since the start.');
    expect(snapshotOf(starting).complete).toBeNull();
  });

  test('a card with a gap is not complete, whatever of it has arrived', () => {
    const card = sampleCard(SAMPLE_COPIES, {}, { ...SAMPLE_CARD, gap: 'M4ROOT/SUB cannot be read (EIO)' });
    expect(sentenceOf(card)).toContain(
      'all 11 that could be read have arrived at Saltmarsh/Day 3/Card A on stripe by name and size. Not all of it could be read: M4ROOT/SUB cannot be read (EIO). What of it could not be read is not known.',
    );
    expect(snapshotOf(card).complete).toBe(false);
  });

  test('an empty card', () => {
    expect(sentenceOf(sampleCard([], {}, { ...SAMPLE_CARD, files: [] }))).toBe(
      'Card SM-A01 (XAVC (M4ROOT), 0 files, 0 B), mounted at /media/SM-A01: it has no files.',
    );
  });

  test('cards that were never seen, and folders that footage was copied into', () => {
    const unseen = (root: string, layout: string | null) => unseenSnapshot({ volume: 'stripe', root, layout }, iso);
    const flat = ['Saltmarsh/Day 1', 'Saltmarsh/Day 2'].map((root) => unseen(root, null));
    expect(
      unseenSentences([flat[0] ?? unseen('', null), unseen('Saltmarsh/Day 3/Card B', 'AVCHD'), ...flat.slice(1)]),
    ).toEqual([
      'The card itself was never read: Saltmarsh/Day 3/Card B on stripe (AVCHD) arrived without it, and whether it is whole cannot be said.',
      'Footage has arrived without a card or a list of its files having been seen: Saltmarsh/Day 1 on stripe, Saltmarsh/Day 2 on stripe. Whether it is whole cannot be said.',
    ]);
    expect(unseenSentences([unseen('', 'AVCHD')])[0]).toContain(' read: stripe (AVCHD) arrived');
    const many = Array.from({ length: 40 }, (_, day) => unseen(`Day ${day}`, null));
    expect(unseenSentences(many)).toHaveLength(1);
    expect(unseenSentences(many)[0]).toContain(' and 35 more.');
    expect(unseenSentences([])).toEqual([]);
  });

  test('nothing ever calls a card safe to erase', () => {
    const cards = [0, 3, 5].flatMap((takes) =>
      (['mounted', 'gone'] as const).map((state) => sampleCard(copiesOfTakes(takes), { state })),
    );
    for (const text of cards.map(sentenceOf)) expect(text).not.toMatch(/erase|format|delete|wipe|safe\b/i);
  });
});

describe('the snapshot of a card', () => {
  test('its keys', () => {
    expect(snapshotOf(sampleCard(copiesOfTakes(4)))).toEqual({
      kept: null,
      check: null,
      lists: [],
      copies: null,
      id: 'f00d',
      name: 'SM-A01',
      source: 'card',
      layout: 'XAVC (M4ROOT)',
      place: '/media/SM-A01',
      volume: null,
      state: 'mounted',
      goneSince: null,
      takenAt: '2027-03-04T12:00:00.000+00:00',
      gap: null,
      files: 11,
      bytes: 10_005_013_000,
      footageFiles: 5,
      footageBytes: 10_005 * MB,
      arrived: 8,
      renamed: 0,
      arriving: 0,
      refused: 0,
      removed: 0,
      missingFiles: 2,
      missingBytes: 2003 * MB + 2000,
      missingFootage: 1,
      removedFootage: 0,
      missingHousekeeping: 1,
      missing: [
        {
          path: 'M4ROOT/CLIP/C0005.MP4',
          bytes: 2003 * MB,
          role: 'footage',
          verdict: 'missing',
          foundBytes: null,
          foundAt: null,
        },
        {
          path: 'M4ROOT/CLIP/C0005M01.XML',
          bytes: 2000,
          role: 'companion',
          verdict: 'missing',
          foundBytes: null,
          foundAt: null,
        },
      ],
      quietSince: '2027-03-04T12:00:00.000+00:00',
      complete: false,
      wasComplete: false,
      notLive: [],
      deliveries: [{ volume: 'stripe', path: SAMPLE_FOLDER, files: 8 }],
      deliveryFolders: 1,
    });
  });

  test('of many missing the first hundred, and the number of all', () => {
    const files = Array.from({ length: 250 }, (_, index) => fileOf(`DCIM/100ABCDE/A${1000 + index}.MOV`, MB + index));
    const { missing, missingFiles, missingBytes } = snapshotOf(sampleCard([], {}, { ...SAMPLE_CARD, files }));
    expect([missing.length, missingFiles, missingBytes]).toEqual([100, 250, 250 * MB + (249 * 250) / 2]);
  });

  test('names from anywhere are harmless in it', () => {
    const name = fc.string({ unit: 'binary', minLength: 1, maxLength: 40 });
    fc.assert(
      fc.property(name, name, name, name, (label, layout, path, gap) => {
        const inventory = {
          ...SAMPLE_CARD,
          name: label,
          place: `/media/${label}`,
          layout,
          gap,
          files: [fileOf(`${path}.mov`, MB)],
        };
        const card = snapshotOf(sampleCard([copyOf(`${gap}/${path}.mov`, MB)], {}, inventory));
        const unseen = unseenSnapshot({ volume: label, root: path, layout }, iso);
        const texts = [
          cardSentence(card, iso(NOON)),
          ...unseenSentences([unseen, { ...unseen, layout: null }]),
          card.name,
          card.place,
          card.gap ?? '',
        ];
        for (const text of texts) expect(display(text)).toBe(text);
      }),
    );
  });
});
