import type { ListOnCardAssessment } from '../assess/assessment.ts';
import { formatCount } from '../units.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf } from './iso-time.ts';
import { namesAndMore } from './lacking-words.ts';
import { type ListCheckSnapshot, listCheckSnapshot, listCheckWords } from './list-check.ts';

/** A list that lies on a card, and what arrived beside what it says of contents. All texts are escaped. */
export interface ListOnCardSnapshot {
  /** From the card's first folder; of a history its folder `ascmhl`. */
  place: string;
  /** `unread`: it could not be read from the card; `unusable`: it was read, and cannot be relied on. */
  state: 'whole' | 'unusable' | 'unread';
  /** Why nothing is known of what it says. */
  detail: string | null;
  /** What of a whole one makes no sense. */
  gap: string | null;
  listed: number;
  /** `null`: not looked at yet, or nothing is known of what it says. */
  check: (ListCheckSnapshot & ListedNotOnCard) | null;
}

/** Listed footage that was not on the card when it was read, and does not lie where the rest of the card does. */
interface ListedNotOnCard {
  notOnCard: number;
  /** The first 20. */
  notOnCardFiles: string[];
}

export function listOnCardSnapshot(list: ListOnCardAssessment, iso: IsoOf): ListOnCardSnapshot {
  const { place, state, detail, gap, listed, check } = list;
  const told = { place: display(place), state, detail: displayOrNull(detail), gap: displayOrNull(gap), listed };
  if (check === null) return { ...told, check };
  const { notOnCard, firstNotOnCard, ...rest } = check;
  const notOnCardFiles = firstNotOnCard.map(display);
  return { ...told, check: { ...listCheckSnapshot(rest, iso), notOnCard, notOnCardFiles } };
}

/** `The list ascmhl on the card names 40 files: 39 have the content that is listed; not here: ...`. */
export function listOnCardSentence({ place, state, detail, gap, listed, check }: ListOnCardSnapshot): string {
  const list = `The list ${place} on the card`;
  if (state === 'unread') return `${list} was not read, and no contents were compared with it: ${detail}.`;
  if (state === 'unusable')
    return `${list} cannot be relied on, and no contents were compared with it: ${asSentence(detail ?? '')}`;
  const found = check === null ? 'what arrived was not compared with it yet' : foundWords(check);
  const unread = gap === null ? '' : ` Not all of it makes sense: ${gap}.`;
  return `${list} names ${formatCount(listed, 'file')}: ${found}.${unread}${check === null ? '' : notOnCardWords(check)}`;
}

function foundWords(check: ListCheckSnapshot): string {
  return check.files > 0 && check.missing === check.files ? 'none of it has arrived' : listCheckWords(check);
}

function notOnCardWords({ notOnCard, notOnCardFiles }: ListedNotOnCard): string {
  if (notOnCard === 0) return '';
  const names = namesAndMore(notOnCardFiles, notOnCard);
  return ` Of what it names was not on the card when that was read, and does not lie with the rest of it: ${names}.`;
}

function asSentence(text: string): string {
  return text.endsWith('.') ? text : `${text}.`;
}
