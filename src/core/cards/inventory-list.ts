import { HISTORY_FOLDER } from '../backup/manifest-file-name.ts';
import { baseName, dirName } from '../intake/path-text.ts';
import type { Instant, PathText } from '../model.ts';
import type { InventoryFile } from './inventory.ts';
import type { KnownList, KnownListed, ListPlace } from './known-list.ts';
import { isManifestName } from './manifest-name.ts';

/** A list that lies on a card, and the files it is made of as the card's listing has them: of a history all in its folder. */
export interface ListOnCard extends ListPlace {
  files: InventoryFile[];
}

/** The first folder of a mounted card, as it was when the card was listed. */
export interface CardRoot {
  mountPoint: string;
  device: bigint;
  ino: bigint;
}

/**
 * How reading a list on a card ended:
 * - `read`: all of it; `gap` says what of it makes no sense;
 * - `unusable`: it was read, and cannot be relied on;
 * - `no-list`: only its name is that of a list;
 * - `unread`: it could not be read, this time; the card was taken out perhaps, or written to.
 */
export type CardListOutcome =
  | { is: 'read'; list: KnownList; gap: string | null }
  | { is: 'unusable' | 'no-list' | 'unread'; detail: string };

/** Lists on mounted cards, each read in a process of its own. Never rejects. */
export interface CardListPort {
  read(card: CardRoot, list: ListOnCard): Promise<CardListOutcome>;
}

/** What is kept of a list that lies, or lay, on a card, besides the files it names. */
export interface InventoryListHead extends ListPlace {
  /** Id of the card's inventory. */
  inventory: string;
  kind: KnownList['kind'];
  /** Of what it says all is known (`whole`), or nothing; `detail` says why. */
  state: 'whole' | 'unusable' | 'unread';
  detail: string | null;
  /** What of a whole one makes no sense, in words. */
  gap: string | null;
  /** Changes with the size or time of any file it is made of. Empty of what is `unread`. */
  stamp: string;
  /** So many files it names. */
  listed: number;
  readAt: Instant;
}

/** The part of the ledger that keeps what lists on cards say. `LedgerPort.dropInventory` takes them along. */
export interface InventoryListPort {
  /** In the order of their inventories, then places. */
  inventoryLists(): Promise<InventoryListHead[]>;
  /** Nothing of one that is not kept. */
  inventoryListFiles(inventory: string, place: PathText): Promise<KnownListed[]>;
  /**
   * Replaces the one at the same place; but a whole one is replaced by a whole one alone. Nothing is kept for an inventory
   * that is not kept. Durable when it resolves.
   */
  putInventoryList(head: InventoryListHead, files: readonly KnownListed[]): Promise<void>;
}

/** Whether a file of a card belongs to a list by its name. */
export function isOfList({ path }: InventoryFile): boolean {
  return isManifestName(path) || baseName(dirName(path)) === HISTORY_FOLDER;
}

/** The lists among files of a card. A folder `ascmhl` without any list in it is none. */
export function listsOnCard(files: readonly InventoryFile[]): ListOnCard[] {
  const placeOf = ({ path }: InventoryFile) => (baseName(dirName(path)) === HISTORY_FOLDER ? dirName(path) : path);
  const own = files.filter(isOfList).sort((one, other) => (one.path < other.path ? -1 : 1));
  const lists = Map.groupBy(own, placeOf);
  return [...lists]
    .filter(([, parts]) => parts.some(({ path }) => isManifestName(path)))
    .map(([place, parts]) => ({ place, base: dirName(place), files: parts }));
}

/** The same text for the same files of the same sizes and times. */
export function listStamp({ files }: ListOnCard): string {
  return JSON.stringify(files.map(({ path, size, mtimeMs }) => [path, size, mtimeMs]));
}
