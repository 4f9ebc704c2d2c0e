import type { CardAssessment } from '../assess/assessment.ts';
import { formatBytes } from '../units.ts';
import { NO_LEAVE } from './card-copies.ts';
import { cardSentences, unseenSentences } from './card-sentences.ts';
import type { IsoOf } from './iso-time.ts';
import { NO_LONGER_HERE } from './lacking-words.ts';
import { type CardSnapshot, cardSnapshot, type MissingSnapshot, type UnseenSnapshot } from './snapshot-cards.ts';
import { wrap } from './text.ts';

/** The contract of `card --json`: as in the snapshot, but with every missing file named. */
export function cardJson(card: CardAssessment, iso: IsoOf): CardSnapshot {
  return cardSnapshot(card, iso, Number.POSITIVE_INFINITY);
}

/** Every card and list, and by name what of it is not here; lines of at most `width` columns. `at`: now, as the cards tell it. */
export function cardList(
  { cards, unseen }: { cards: readonly CardSnapshot[]; unseen: readonly UnseenSnapshot[] },
  at: string,
  width: number,
): string {
  if (cards.length + unseen.length === 0)
    return `${wrap('No card was seen, and no list of files has come with footage.', width).join('\n')}\n`;
  const blocks = [
    ...cards.map((card) => oneCard(card, at, width)),
    ...unseenSentences(unseen).map((sentence) => wrap(sentence, width)),
    wrap(NO_LEAVE, width),
  ];
  return `${blocks.map((lines) => lines.join('\n')).join('\n\n')}\n`;
}

function oneCard(card: CardSnapshot, at: string, width: number): string[] {
  const { missing } = card;
  const [first = '', ...others] = cardSentences(card, at);
  return [
    ...wrap(first, width),
    ...others.flatMap((sentence) => wrap(sentence, width, '  ')),
    ...missing.flatMap((file) => wrap(missingLine(file), width, '  - ')),
    ...wrap(`To hear no more of it: headroomd card --drop ${card.id}`, width, '  '),
  ];
}

function missingLine({ path, bytes, verdict, foundBytes, foundAt }: MissingSnapshot): string {
  const size = bytes === null ? '' : `, ${formatBytes(bytes)}`;
  if (verdict === 'removed') return `${path}${size}; ${NO_LONGER_HERE}`;
  const there = foundBytes === null || foundAt === null ? '' : `; ${formatBytes(foundBytes)} of it are at ${foundAt}`;
  return `${path}${size}${verdict === 'differs' && there !== '' ? there.replace(' of it are', ' are') : there}`;
}
