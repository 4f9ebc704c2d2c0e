import { describe, expect, test } from 'vitest';
import type { Assessment } from '../../../src/core/assess/assessment.ts';
import { untrusted } from '../../../src/core/cards/list-check.ts';
import { cardJson, cardList } from '../../../src/core/present/card-list.ts';
import { htmlPage } from '../../../src/core/present/html/page.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { statusScreen } from '../../../src/core/present/status-screen.ts';
import { columns } from '../../../src/core/present/text.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { clearedCard, copiesOfTakes, SAMPLE_CARD, SAMPLE_COPIES, sampleCard } from '../card-samples.ts';
import { fileOf } from '../cards/arrived.ts';
import { NOON, sampleAssessment } from '../samples.ts';
import { CONTEXT } from './hostile.ts';

const iso = (instant: number) => isoWithOffset(instant, 'UTC');
const AT = iso(NOON);
const UNSEEN = { volume: 'stripe', root: 'Saltmarsh/Day 3/Card B', layout: 'AVCHD' };
const shown = (over: Partial<Assessment>) => snapshot(sampleAssessment(over), [], CONTEXT);
const screen = (over: Partial<Assessment>, rows: number | null = null) =>
  statusScreen(shown(over), { width: 80, rows, old: null });

const flat = (text: string) => text.replace(/\s+/g, ' ');

/** A card of which nothing has arrived, with many takes of one size. */
const FULL = sampleCard(
  [],
  { state: 'gone' },
  {
    ...SAMPLE_CARD,
    files: Array.from({ length: 300 }, (_, n) => fileOf(`M4ROOT/CLIP/C${1000 + n}.MP4`, 1000)),
  },
);

describe('the list of cards', () => {
  test('names every file that is not here, however many, in lines that fit', () => {
    const text = cardList({ cards: [cardJson(FULL, iso)], unseen: [] }, AT, 72);
    for (let n = 0; n < 300; n += 1) expect(text).toContain(`  - M4ROOT/CLIP/C${1000 + n}.MP4, 1.00 kB\n`);
    expect(text).toContain('headroomd card --drop f00d\n');
    for (const line of text.split('\n')) expect(columns(line)).toBeLessThanOrEqual(72);
    expect(cardJson(FULL, iso).missing).toHaveLength(300);
    expect(shown({ cards: [FULL] }).cards[0]?.missing).toHaveLength(100);
  });

  test('what had arrived and is no longer here is named with these words, and nothing points to copies nobody knows of', () => {
    const text = flat(cardList({ cards: [cardJson(clearedCard([], copiesOfTakes(1)), iso)], unseen: [] }, AT, 72));
    expect(text).toContain('- M4ROOT/CLIP/C0001.MP4, 2.00 GB; had arrived and is no longer here');
    expect(text).toContain('- M4ROOT/CLIP/C0002.MP4, 2.00 GB -');
    expect(text).toContain(
      'Arrived means by name and size. None of this is leave to erase a card: keep it until you have looked at the copies yourself.',
    );
    expect(text).not.toContain('Safety');
  });

  test('with none says so', () => {
    expect(cardList({ cards: [], unseen: [] }, AT, 80)).toBe(
      'No card was seen, and no list of files has come with footage.\n',
    );
  });
});

describe('on the screen', () => {
  test('nothing at all without cards', () => {
    expect(screen({})).not.toContain('Cards');
  });

  test('stand after the arrivals, what is missing first, and what was never seen last', () => {
    const whole = sampleCard(undefined, {}, { ...SAMPLE_CARD, id: 'whole', name: 'WHOLE' });
    const text = screen({ cards: [whole, sampleCard(copiesOfTakes(4))], unseen: [UNSEEN] });
    expect(flat(text)).toMatch(
      / under way\. Cards: 2 cards and lists, 1 with footage that is not here, 1 copied card was never seen\. Arrived means by name and size\. [^.]*\. Card SM-A01/,
    );
    expect(text.indexOf('Card SM-A01')).toBeLessThan(text.indexOf('Card WHOLE'));
    expect(text.indexOf('Card WHOLE')).toBeLessThan(text.indexOf('The card itself'));
    expect(text).toMatch(/Card B on stripe[\s\S]*\n\nProjects/);
  });

  test('one that was wholly here and was cleared stands below one that never was', () => {
    const cleared = clearedCard([], SAMPLE_COPIES, { wasComplete: true });
    const other = sampleCard(copiesOfTakes(4), {}, { ...SAMPLE_CARD, id: 'other', name: 'OTHER' });
    const text = screen({ cards: [cleared, other] });
    expect(text.indexOf('Card OTHER')).toBeLessThan(text.indexOf('Card SM-A01'));
  });

  test('one that is not what its list says stands above those that are whole', () => {
    const check = { ...untrusted('', 'm', NOON), trouble: null, files: 1, altered: 1 };
    const altered = sampleCard(
      undefined,
      { state: 'gone', wasComplete: true, check },
      { ...SAMPLE_CARD, id: 'x', name: 'ALTERED' },
    );
    const text = screen({ cards: [sampleCard(), altered] });
    expect(text.indexOf('Card ALTERED')).toBeLessThan(text.indexOf('Card SM-A01'));
  });

  test('copied ones alone', () => {
    expect(flat(screen({ unseen: [UNSEEN] }))).toContain(
      'Cards: none was seen, 1 copied card was never seen. The card itself was never read: Saltmarsh/Day 3/Card B on',
    );
  });

  test('are cut and counted where there are many, and where there is little room', () => {
    const cards = Array.from({ length: 9 }, (_, n) =>
      sampleCard([], {}, { ...SAMPLE_CARD, id: `c${n}`, name: `C${n}` }),
    );
    const unseen = Array.from({ length: 7 }, (_, n) => ({ ...UNSEEN, root: `Day ${n}` }));
    expect(screen({ cards, unseen })).toMatch(/and 4 more cards;[\s\S]*and 2 more cards;/);
    const small = screen({ cards, unseen }, 24);
    expect(small.split('\n').length).toBeLessThanOrEqual(24);
    expect(flat(small)).toContain(
      'Cards: 9 cards and lists, 9 with footage that is not here, 7 copied cards were never seen. Proj',
    );
  });

  test('a snapshot that an earlier version stored has none', () => {
    const { cards, unseen, ...stored } = shown({});
    expect(statusScreen(stored as ReturnType<typeof shown>, { width: 80, rows: null, old: 60 })).toContain('Arrivals');
  });
});

describe('on the page', () => {
  test('nothing without cards; else below the arrivals, escaped', () => {
    expect(htmlPage(shown({}))).not.toContain('Cards</h3>');
    const html = htmlPage(
      shown({ cards: [sampleCard([], {}, { ...SAMPLE_CARD, name: '<b>\u202e' })], unseen: [UNSEEN] }),
    );
    expect(html).toMatch(
      /Arrivals<\/h2>[\s\S]*<h3>Cards<\/h3><\/div><div data-block="card:f00d" data-mark="[^"]+"><p>Card &#60;b&#62;\\u\{202e\} [\s\S]*Card B on stripe[\s\S]*Projects<\/h2>/,
    );
  });
});
