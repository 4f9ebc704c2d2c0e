import type { CardListOutcome, CardRoot, ListOnCard } from '../../core/cards/inventory-list.ts';
import type { KnownListOutcome, ListPlace } from '../../core/cards/known-list.ts';
import { messageOf } from '../../core/fault.ts';
import { display } from '../../core/present/escape.ts';
import { formatBytes, formatCount } from '../../core/units.ts';
import { type CardFs, type CardTree, CardVanished, ensureThere, statOf } from './card-tree.ts';

/** Handed to the process that reads one list on a card. */
export interface CardListOrder {
  card: CardRoot;
  list: ListOnCard;
}

/** Reads a list below a folder. Never rejects. */
export type ReadList = (root: string, place: ListPlace) => Promise<KnownListOutcome>;

/** A list, or all manifests of a history, with a line for each file of the fullest card. */
const MOST_BYTES = 64 * 1024 * 1024;
/** As many as a card is listed with. */
const MOST_FILES = 200_000;

/**
 * Reads a list on a mounted card. The card is looked for before and after, and the list must be as it was listed both
 * times: what lies in the folder of a card that was pulled, or on what was put in for it, is not the card's list. Never
 * rejects.
 */
export async function readListOnCard(
  { card, list }: CardListOrder,
  fs: CardFs,
  read: ReadList,
): Promise<CardListOutcome> {
  const tree: CardTree = { fs, ...card };
  try {
    ensureListed(tree, list);
    const bytes = list.files.reduce((sum, { size }) => sum + (size ?? 0), 0);
    if (bytes > MOST_BYTES) return tooLarge(list, `has ${formatBytes(bytes)}, more than is read of a list on a card`);
    const told = await read(card.mountPoint, list);
    ensureListed(tree, list);
    return outcomeOf(told, list);
  } catch (error) {
    return { is: 'unread', detail: whyNot(tree, error) };
  }
}

function outcomeOf(told: KnownListOutcome, list: ListOnCard): CardListOutcome {
  if (told.ok) {
    const { files } = told.list;
    if (files.length <= MOST_FILES) return { is: 'read', list: told.list, gap: told.gap };
    return tooLarge(list, `names ${formatCount(files.length, 'file')}, more than lie on any card`);
  }
  return { is: told.reason === 'unreadable' ? 'unread' : told.reason, detail: told.detail };
}

function tooLarge({ place }: ListOnCard, what: string): CardListOutcome {
  return { is: 'unusable', detail: `${display(place)} ${what}.` };
}

/** Throws when the card is not there, or a file of the list is not as it was listed, or on another file system. */
function ensureListed(tree: CardTree, { files }: ListOnCard): void {
  ensureThere(tree);
  for (const { path, size, mtimeMs } of files) {
    const now = statOf(tree, path);
    const isSame = now.isFile() && Number(now.size) === size && Number(now.mtimeMs) === mtimeMs;
    if (now.dev !== tree.device || !isSame) throw new Error(`${display(path)} was changed meanwhile`);
  }
  ensureThere(tree);
}

function whyNot(tree: CardTree, error: unknown): string {
  try {
    ensureThere(tree);
  } catch (gone) {
    if (gone instanceof CardVanished) return `${gone.message} while it was read`;
  }
  return messageOf(error);
}
