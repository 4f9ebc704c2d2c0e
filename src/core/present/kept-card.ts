import { ASKED_AFTER_MS, type KeptCard, type OnCards } from '../cards/kept-card.ts';
import { formatBytes, formatCount } from '../units.ts';
import { display } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { namesAndMore } from './lacking-words.ts';
import { shortTime } from './sentences.ts';

/** That a person said a card is kept as it is. Texts are escaped. */
export interface KeptSnapshot {
  saidAt: IsoTime;
  saidBy: string;
  /** When it was put in again and so many of its files were not on it any more; `null`: what was said holds. */
  endedAt: IsoTime | null;
  lacking: number;
}

/** A card on which some of a volume's exposed footage lies, as a person said. */
export interface OnCardSnapshot {
  name: string;
  saidAt: IsoTime;
  saidBy: string;
}

export function keptSnapshot({ saidAt, saidBy, endedAt, lacking }: KeptCard, iso: IsoOf): KeptSnapshot {
  return { saidAt: iso(saidAt), saidBy: display(saidBy), endedAt: endedAt === null ? null : iso(endedAt), lacking };
}

/** `exposedBytes`: of the volume; more than these are never told. `null`: not known. */
export function onCardsSnapshot(
  onCards: OnCards | null,
  exposedBytes: number | null,
  iso: IsoOf,
): { onCardsBytes: number | null; onCards: OnCardSnapshot[] } {
  if (onCards === null || exposedBytes === null) return { onCardsBytes: null, onCards: [] };
  const cards = onCards.cards.map(({ name, saidAt, saidBy }) => ({
    ...{ name: display(name), saidAt: iso(saidAt), saidBy: display(saidBy) },
  }));
  return { onCardsBytes: Math.min(onCards.bytes, exposedBytes), onCards: exposedBytes === 0 ? [] : cards };
}

/** What a person said of a card, and whether to ask about it; `null`: nothing. */
export function keptSentence(id: string, kept: KeptSnapshot | null, at: IsoTime): string | null {
  if (kept === null) return null;
  const { saidAt, saidBy, endedAt, lacking } = kept;
  const said = `${saidBy} said at ${shortTime(saidAt, at)} that this card is kept as it is`;
  if (endedAt !== null) {
    const files = `${formatCount(lacking, 'file')} of its footage ${lacking === 1 ? 'was' : 'were'} not on it any more`;
    return `${said}; when it was in at ${shortTime(endedAt, at)}, ${files}. So it is not counted as kept.`;
  }
  const age = msOf(at) - msOf(saidAt);
  if (age < ASKED_AFTER_MS) return `${said}; nobody read back what is on it.`;
  const days = formatCount(Math.floor(age / 86_400_000), 'day');
  return `${said}, ${days} ago. Is it still? If so, say it again: headroomd card ${id} --kept; if not: headroomd card ${id} --not-kept.`;
}

/** How much of what is exposed lies on kept cards as well; `null`: nothing. A snapshot of an earlier version does not tell. */
export function onCardsSentence(
  { onCardsBytes = null, onCards = [] }: { onCardsBytes?: number | null; onCards?: readonly OnCardSnapshot[] },
  at: IsoTime,
): string | null {
  if (onCardsBytes === null || onCardsBytes === 0) return null;
  const named = namesAndMore(onCards.map((card) => `${card.name} (${card.saidBy}, ${shortTime(card.saidAt, at)})`));
  const cards = onCards.length === 1 ? 'a card that was' : 'cards that were';
  return `Of what is exposed ${formatBytes(onCardsBytes)} still lie on ${cards} said to be kept: ${named}. Nobody read them back there: no verified copies.`;
}

function msOf(time: IsoTime): number {
  return Temporal.Instant.from(time).epochMilliseconds;
}
