import { describe, expect, test } from 'vitest';
import { type CopyTally, sumTallies, tallyOf, type VerifiedCopy } from '../../../src/core/cards/copy-tally.ts';
import { copiesSentence, unseenSentences } from '../../../src/core/present/card-sentences.ts';
import { cardSnapshot, unseenSnapshot } from '../../../src/core/present/snapshot-cards.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { sampleCard } from '../card-samples.ts';

const iso = (instant: number) => isoWithOffset(instant, 'UTC');
const DAY = Date.UTC(2027, 2, 4, 9);
const on = (shelf: string, readAt = DAY): VerifiedCopy => ({ shelf, name: shelf, drive: shelf, readAt });
const files = (count: number, ...copies: VerifiedCopy[]): CopyTally[] =>
  Array.from({ length: count }, () => tallyOf(copies, 'stripe', 0));
const sentenceOf = (copies: CopyTally | null) => copiesSentence(cardSnapshot(sampleCard(undefined, { copies }), iso));

describe('the statement of a card', () => {
  test('all files alike', () => {
    expect(sentenceOf(sumTallies(files(11, on('shelf-a'), on('shelf-b', DAY - 864e5))))).toBe(
      "Of this card's inventory of 11 files, 11 arrived and match it by name and size; each has 2 verified copies, on shelf-a and shelf-b, last read back on 2027-03-03 or later.",
    );
  });

  test('the smallest number counts, and shelves tell how many lack there', () => {
    expect(sentenceOf(sumTallies([...files(8, on('shelf-a'), on('shelf-b')), ...files(1, on('shelf-a'))]))).toBe(
      "Of this card's inventory of 11 files, 9 arrived and match it by name and size; each has 1 verified copy or more, on shelf-a and shelf-b (1 file is not there), last read back on 2027-03-04 or later.",
    );
    expect(sentenceOf(sumTallies([...files(8, on('shelf-a')), ...files(3)]))).toBe(
      "Of this card's inventory of 11 files, 11 arrived and match it by name and size; 3 of them have no verified copy; the verified copies of the others are on shelf-a (3 files are not there), last read back on 2027-03-04 or later.",
    );
    expect(sentenceOf(sumTallies(files(11)))).toMatch(/; none of them has a verified copy\.$/);
  });

  test('nothing is stated of what has not arrived, or was not looked up', () => {
    expect(sentenceOf(null)).toBeNull();
    expect(sentenceOf(sumTallies([]))).toBeNull();
  });

  test('of a copied folder it begins with what is not known', () => {
    const unseen = {
      volume: 'stripe',
      root: 'Saltmarsh/Card B',
      layout: 'AVCHD',
      copies: sumTallies(files(1, on('shelf-a'))),
    };
    expect(unseenSentences([unseenSnapshot(unseen, iso)])).toEqual([
      'The card itself was never read: Saltmarsh/Card B on stripe (AVCHD) arrived without it, and whether it is whole cannot be said. As for its only file here, it has 1 verified copy, on shelf-a, last read back on 2027-03-04.',
    ]);
  });
});
