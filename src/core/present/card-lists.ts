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

/** More lists of which the same is to be said are told in one sentence: some recorders write one for each take. */
const MOST_EACH = 3;

/** A sentence for each list, and one for many of which the same is to be said. */
export function listsOnCardSentences(lists: readonly ListOnCardSnapshot[]): string[] {
  const groups = Map.groupBy(lists, (list) => commonWords(list) ?? list.place);
  return [...groups].flatMap(([words, group]) => {
    const isOne = group.length <= MOST_EACH || group.some((list) => commonWords(list) === null);
    return isOne ? group.map(listOnCardSentence) : [groupSentence(group, words)];
  });
}

/** `null`: what is to be said of it names files or reasons of its own. */
function commonWords({ state, gap, check }: ListOnCardSnapshot): string | null {
  if (state !== 'whole' || gap !== null) return null;
  if (check === null) return 'what arrived was not compared with them yet';
  if (check.files === 0) return null;
  if (check.missing === check.files && check.notOnCard === 0) return 'none of it has arrived';
  return check.intact === check.files ? 'all of it has the content that is listed' : null;
}

function groupSentence(group: readonly ListOnCardSnapshot[], words: string): string {
  const files = group.reduce((sum, { listed }) => sum + listed, 0);
  const named = namesAndMore(group.map(({ place }) => place));
  return `${group.length} lists on the card name ${formatCount(files, 'file')}: ${words} (${named}).`;
}

/** `The list ascmhl on the card names 40 files: 39 have the content that is listed; not here: ...`. */
function listOnCardSentence({ place, state, detail, gap, listed, check }: ListOnCardSnapshot): string {
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
