import { describe, expect, test } from 'vitest';
import { cardIncomplete } from '../../../../src/core/advise/rules/card-incomplete.ts';
import { listDiffers } from '../../../../src/core/advise/rules/list-differs.ts';
import type { Thresholds } from '../../../../src/core/advise/rules/rule.ts';
import type { CardAssessment, ListOnCardAssessment } from '../../../../src/core/assess/assessment.ts';
import type { CardListCheck } from '../../../../src/core/cards/card-list-check.ts';
import { type AlteredFile, untrusted } from '../../../../src/core/cards/list-check.ts';
import { cardSentences } from '../../../../src/core/present/card-sentences.ts';
import { cardSnapshot } from '../../../../src/core/present/snapshot-cards.ts';
import { isoWithOffset } from '../../../../src/core/units.ts';
import { copiesOfTakes, SAMPLE_CARD, SAMPLE_COPIES, SAMPLE_FOLDER, sampleCard } from '../../card-samples.ts';
import { copyOf, manifestOf } from '../../cards/arrived.ts';
import { NOON, sampleAssessment } from '../../samples.ts';

const NO_THRESHOLDS = {} as Thresholds;
const CLEAN: CardListCheck = {
  ...untrusted('', 'mark', NOON),
  trouble: null,
  files: 5,
  intact: 5,
  notOnCard: 0,
  firstNotOnCard: [],
};
const FILE = 'M4ROOT/CLIP/C0002.MP4';
const ALTERED: AlteredFile = {
  ...{ path: FILE, size: 2e9, format: 'md5', listed: 'aa', found: 'bb' },
  at: { volume: 'stripe', path: `${SAMPLE_FOLDER}/${FILE}` },
};
const altered = (since: number | null = 7): Partial<CardListCheck> => ({
  ...{ intact: 4, altered: 1, since },
  first: { ...CLEAN.first, altered: [ALTERED] },
});
const SUBJECT = 'SM-A01/ascmhl (f00d)';

function listOf(check: Partial<CardListCheck> | null, over: Partial<ListOnCardAssessment> = {}): ListOnCardAssessment {
  const whole = { place: 'ascmhl', state: 'whole', detail: null, gap: null, listed: 5 } as const;
  return { ...whole, check: check === null ? null : { ...CLEAN, ...check }, ...over };
}

const cardWith = (list: ListOnCardAssessment, over: Partial<CardAssessment> = {}) =>
  sampleCard(SAMPLE_COPIES, { lists: [list], ...over });
const judge = (...cards: CardAssessment[]) => listDiffers.evaluate(sampleAssessment({ cards }), NO_THRESHOLDS);
const quiet = { progress: { mark: '', since: NOON - 60_000 } };

/** The same list, copied along with the footage, that found the same. */
function copiedAlong(since: number): CardAssessment {
  const inventory = {
    ...manifestOf('m', SAMPLE_FOLDER, [{ path: FILE, size: null, mtimeMs: null }]),
    place: `${SAMPLE_FOLDER}/ascmhl`,
  };
  const check = { ...CLEAN, ...altered(since), first: { ...CLEAN.first, altered: [{ ...ALTERED, at: undefined }] } };
  const { at: _, ...plain } = ALTERED;
  return sampleCard(
    [copyOf(`${SAMPLE_FOLDER}/${FILE}`, 5)],
    { state: 'manifest', check: { ...check, first: { ...CLEAN.first, altered: [plain] } } },
    inventory,
  );
}

describe('what arrived beside a list on its card', () => {
  test('what is altered is told at once, with where it lies, both values and what to do', () => {
    const [finding] = judge(cardWith(listOf(altered()))).findings;
    expect(finding).toMatchObject({
      ...{ kind: 'list-differs', subject: SUBJECT, severity: 'critical' },
      figures: { listedFiles: 5, intactFiles: 4, alteredFiles: 1, notOnCardFiles: 0 },
    });
    expect(finding?.message).toBe(
      'List ascmhl on card SM-A01: 1 of its 5 files is not as listed: M4ROOT/CLIP/C0002.MP4 (the list says md5 aa, found bb at Saltmarsh/Day 3/Card A/M4ROOT/CLIP/C0002.MP4 on stripe). Keep the card as it is.',
    );
    expect(finding?.remedies).toEqual([
      {
        action: 'Copy exactly this file again from the card, and do not format the card before it matches',
        effect: '1 file, 2.00 GB: what comes is read and compared with the list by itself',
      },
      {
        action: 'If this is as it should be, run: headroomd card --drop f00d',
        effect: 'nothing of this card or its lists is waited for or compared any more; no file is touched',
      },
    ]);
    const [gone] = judge(cardWith(listOf(altered()), { state: 'gone' })).findings;
    expect(gone?.remedies[0]?.action).toMatch(/^Put the card in again and copy exactly this file again/);
    const sidecar = { ...ALTERED, path: 'M4ROOT/CLIP/C0002M01.XML' };
    const [warning] = judge(cardWith(listOf({ ...altered(), first: { ...CLEAN.first, altered: [sidecar] } }))).findings;
    expect(warning?.severity).toBe('warning');
  });

  test('what has not arrived is told of the card alone, after a minute of quiet', () => {
    const lacking = copiesOfTakes(4);
    const list = listOf({ intact: 4, missing: 1 });
    const at = (over: Partial<CardAssessment>) =>
      sampleAssessment({ cards: [sampleCard(lacking, { lists: [list], ...over })] });
    expect(listDiffers.evaluate(at(quiet), NO_THRESHOLDS).findings).toEqual([]);
    const told = (over: Partial<CardAssessment>) => cardIncomplete.evaluate(at(over), NO_THRESHOLDS).findings;
    expect(told({})).toEqual([]);
    expect(told({ ...quiet, lists: [] })).toEqual([]);
    const [finding] = told(quiet);
    expect(finding?.message).toContain('M4ROOT/CLIP/C0005.MP4');
    expect(finding?.remedies[0]?.effect).toMatch(/contents are compared with the list on the card/);
  });

  test('what the list names and the card does not hold is told when nothing more comes', () => {
    const list = listOf({ intact: 4, missing: 1, notOnCard: 1, firstNotOnCard: ['M4ROOT/CLIP/C0009.MP4'] });
    expect(judge(cardWith(list)).findings).toEqual([]);
    expect(judge(cardWith(listOf({ ...list.check, arriving: 1 }), quiet)).findings).toEqual([]);
    const [finding] = judge(cardWith(list, quiet)).findings;
    expect(finding?.severity).toBe('warning');
    expect(finding?.message).toBe(
      'List ascmhl on card SM-A01: 1 of its 5 files was not on the card when it was read, and does not lie with the rest of it: M4ROOT/CLIP/C0009.MP4. Keep the card as it is.',
    );
    expect(finding?.remedies[0]?.action).toMatch(/^Record nothing on the card/);
  });

  test('files that two lists find altered are told of the one that found them first', () => {
    const subjects = (...cards: CardAssessment[]) => judge(...cards).findings.map(({ subject }) => subject);
    const card = cardWith(listOf(altered(7)));
    expect(subjects(card, copiedAlong(8))).toEqual([SUBJECT]);
    expect(subjects(copiedAlong(8), card)).toEqual([SUBJECT]);
    expect(subjects(card, copiedAlong(6))).toEqual(['m (m)']);
    expect(subjects(copiedAlong(7), card)).toEqual(['m (m)']);
    // Of one that finds more nothing is kept back.
    const more = listOf({
      ...altered(9),
      altered: 2,
      first: { ...CLEAN.first, altered: [ALTERED, { ...ALTERED, path: 'x', at: { volume: 'stripe', path: 'x' } }] },
    });
    expect(subjects(cardWith(more), copiedAlong(6))).toEqual([SUBJECT, 'm (m)']);
    // Two lists on one card.
    const second = listOf(altered(8), { place: 'MD5SUMS' });
    expect(subjects(sampleCard(SAMPLE_COPIES, { lists: [listOf(altered(7)), second] }))).toEqual([SUBJECT]);
  });

  test('what was told is not over before it is known', () => {
    const held = (list: ListOnCardAssessment, over: Partial<CardAssessment> = {}) =>
      judge(cardWith(list, over)).holds(SUBJECT);
    expect(held(listOf(null))).toBe('judged-again');
    expect(held(listOf({ intact: 4, unproved: 1, pending: 1 }))).toBe('judged-again');
    expect(held(listOf({ intact: 4, arriving: 1 }))).toBe('judged-again');
    expect(held(listOf({}))).toBeNull();
    const away = { notLive: [{ volume: 'stripe', state: 'away' }] } as const;
    expect(held(listOf(altered()), away)).toBe('root-not-live');
    expect(judge(cardWith(listOf(altered()), away)).findings).toEqual([]);
  });

  test('one that cannot be relied on is told, unless it came along and that is told', () => {
    const broken = listOf(null, { state: 'unusable', detail: 'ascmhl: the chain has c4X.' });
    expect(judge(cardWith(broken)).findings).toEqual([]);
    const [finding] = judge(cardWith(broken, quiet)).findings;
    expect(finding?.message).toBe(
      'List ascmhl on card SM-A01 cannot be relied on: ascmhl: the chain has c4X. Contents were not compared with it.',
    );
    expect(judge(cardWith(broken, { state: 'gone' })).findings).toHaveLength(1);
    expect(judge(cardWith(listOf(null, { state: 'unread', detail: 'gone' }), quiet)).findings).toEqual([]);
    const manifest = { path: 'ascmhl/0001_A.mhl', size: 9, mtimeMs: NOON };
    const inventory = { ...SAMPLE_CARD, files: [...SAMPLE_CARD.files, manifest] };
    const copies = [...SAMPLE_COPIES, copyOf(`${SAMPLE_FOLDER}/${manifest.path}`, 9, { mtimeMs: NOON })];
    const card = sampleCard(copies, { ...quiet, lists: [broken] }, inventory);
    expect(judge(card).findings).toHaveLength(1);
    expect(judge(card, { ...copiedAlong(7), check: null }).findings).toEqual([]);
  });
});

describe('in words', () => {
  const iso = (instant: number) => isoWithOffset(instant, 'UTC');
  const words = (list: ListOnCardAssessment) => cardSentences(cardSnapshot(cardWith(list), iso), iso(NOON))[1];

  test('what a list on the card names, and what came of it', () => {
    expect(words(listOf({}))).toBe('The list ascmhl on the card names 5 files: all 5 have the content that is listed.');
    expect(
      words(
        listOf({
          ...altered(),
          intact: 3,
          missing: 1,
          first: { ...CLEAN.first, altered: [ALTERED], missing: [{ path: 'C.MP4', size: 1 }] },
        }),
      ),
    ).toBe(
      `The list ascmhl on the card names 5 files: 3 have the content that is listed; not as listed: ${FILE}; not here: C.MP4.`,
    );
    expect(words(listOf({ intact: 0, missing: 5 }))).toBe(
      'The list ascmhl on the card names 5 files: none of it has arrived.',
    );
    expect(words(listOf(null, { gap: '2 of its 7 lines could not be read' }))).toBe(
      'The list ascmhl on the card names 5 files: what arrived was not compared with it yet. Not all of it makes sense: 2 of its 7 lines could not be read.',
    );
    expect(words(listOf({ intact: 4, missing: 1, notOnCard: 1, firstNotOnCard: ['D\u202e.MP4'] }))).toMatch(
      /Of what it names was not on the card when that was read, and does not lie with the rest of it: D\\u\{202e\}.MP4\.$/,
    );
  });

  test('many lists of which the same is to be said are told in one sentence', () => {
    const at = (n: number, check: Partial<CardListCheck> | null = {}) =>
      listOf(check, { place: `${n}.md5`, listed: 1 });
    const all = (...lists: ListOnCardAssessment[]) =>
      cardSentences(cardSnapshot(sampleCard(SAMPLE_COPIES, { lists }), iso), iso(NOON)).slice(1);
    const [one, two, three, four] = [1, 2, 3, 4].map((n) => at(n, { files: 1, intact: 1 }));
    if (!one || !two || !three || !four) throw new Error('there are four');
    expect(all(one, two, three)).toHaveLength(3);
    const bad = at(9, { ...altered(), files: 1, intact: 0 });
    expect(all(one, two, bad, three, four)).toEqual([
      '4 lists on the card name 4 files: all of it has the content that is listed (1.md5, 2.md5, 3.md5, 4.md5).',
      `The list 9.md5 on the card names 1 file: none of it is known to have the content that is listed; not as listed: ${FILE}.`,
    ]);
    const open = [1, 2, 3, 4].map((n) => at(n, null));
    expect(all(...open)).toEqual([
      '4 lists on the card name 4 files: what arrived was not compared with them yet (1.md5, 2.md5, 3.md5, 4.md5).',
    ]);
    expect(all(...[1, 2, 3, 4].map((n) => at(n, { files: 1, intact: 0, missing: 1 })))[0]).toContain(
      'none of it has arrived (',
    );
  });

  test('one of which nothing is known, and why', () => {
    expect(words(listOf(null, { state: 'unread', detail: 'the card was taken out while it was read' }))).toBe(
      'The list ascmhl on the card was not read, and no contents were compared with it: the card was taken out while it was read.',
    );
    expect(words(listOf(null, { state: 'unusable', detail: 'ascmhl: the chain has c4X.' }))).toBe(
      'The list ascmhl on the card cannot be relied on, and no contents were compared with it: ascmhl: the chain has c4X.',
    );
  });
});
