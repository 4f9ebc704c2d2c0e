import { describe, expect, test } from 'vitest';
import type { KeptCard } from '../../../src/core/cards/kept-card.ts';
import { htmlPage } from '../../../src/core/present/html/page.ts';
import { keptSentence, keptSnapshot, onCardsSentence } from '../../../src/core/present/kept-card.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { statusScreen } from '../../../src/core/present/status-screen.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { NOON, sampleAssessment, sampleVolume } from '../samples.ts';
import { CONTEXT } from './hostile.ts';

const DAY = 86_400_000;
const iso = (instant: number) => isoWithOffset(instant, 'UTC');
const SAID: KeptCard = { inventory: 'f00d', saidAt: NOON - 2 * 3_600_000, saidBy: 'mina', endedAt: null, lacking: 0 };
const sentence = (kept: KeptCard | null, at = NOON) =>
  keptSentence('f00d', kept === null ? null : keptSnapshot(kept, iso), iso(at));

describe('what a person said of a card', () => {
  test('by whom and when, and what it is not', () => {
    expect(sentence(SAID)).toBe('mina said at 10:00 that this card is kept as it is; nobody read back what is on it.');
    expect(sentence(null)).toBeNull();
  });

  test('is asked about from seven days on', () => {
    expect(sentence(SAID, SAID.saidAt + 7 * DAY - 1_000)).toMatch(/; nobody read back/);
    expect(sentence(SAID, SAID.saidAt + 7 * DAY)).toMatch(
      / that this card is kept as it is, 7 days ago\. Is it still\? If so, say it again: headroomd card f00d --kept; if not: headroomd card f00d --not-kept\.$/,
    );
  });

  test('is told as over when files were gone', () => {
    expect(sentence({ ...SAID, endedAt: NOON, lacking: 1 })).toBe(
      'mina said at 10:00 that this card is kept as it is; when it was in at 12:00, 1 file of its footage was not on it any more. So it is not counted as kept.',
    );
  });
});

describe('beside the exposure', () => {
  const safety = { exposedBytes: 9e9, exposedClips: 3, exposedSeconds: 60, exposedSince: NOON };
  const onCards = (bytes: number) =>
    new Map([['stripe', { bytes, cards: [{ name: 'SALT_A', saidAt: SAID.saidAt, saidBy: 'mina' }] }]]);
  const shown = (bytes: number | null, exposedBytes = 9e9) =>
    snapshot(
      sampleAssessment({
        volumes: [sampleVolume({ safety: { ...safety, exposedBytes } })],
        onCards: bytes === null ? null : onCards(bytes),
      }),
      [],
      CONTEXT,
    );
  const safetyOf = (bytes: number | null, exposed?: number) => shown(bytes, exposed).volumes[0]?.safety;

  test('exposed bytes stay what they are, and never more than these lie on cards', () => {
    expect(safetyOf(4e9)).toMatchObject({
      exposedBytes: 9e9,
      onCardsBytes: 4e9,
      onCards: [{ name: 'SALT_A', saidBy: 'mina' }],
    });
    expect(safetyOf(10e9)).toMatchObject({ exposedBytes: 9e9, onCardsBytes: 9e9 });
    expect(safetyOf(0, 0)).toMatchObject({ onCardsBytes: 0, onCards: [] });
    expect(safetyOf(null)).toMatchObject({ onCardsBytes: null, onCards: [] });
  });

  test('on the screen and on the page, and not at all where there is nothing', () => {
    const words =
      /Of what is exposed 4\.00 GB still lie on a card that was said to be kept: SALT_A \(mina, 10:00\)\. Nobody read them back there: no verified copies\./;
    expect(statusScreen(shown(4e9), { width: 80, rows: null, old: null }).replace(/\s+/g, ' ')).toMatch(words);
    expect(htmlPage(shown(4e9))).toMatch(words);
    expect(htmlPage(shown(0))).not.toMatch(/said to be kept/);
    expect(onCardsSentence({}, iso(NOON))).toBeNull();
  });
});
