import type { InventoryFile } from '../../core/cards/inventory.ts';
import type { ListOnCard } from '../../core/cards/inventory-list.ts';

/** A mounted file system that may be a card. */
export interface CardMount {
  /** Absolute; text of the mount table. */
  mountPoint: string;
  /** `major:minor` of its device, as the mount table has it. */
  device: string;
  fileSystem: string;
  /** The device or program behind it. */
  source: string;
}

/** What was read of a card. */
export interface CardReading {
  /** As the trade names it. */
  layout: string;
  /** What a person calls the card: its label, or the last part of the mount point. */
  name: string;
  /** What tells this file system from others: its UUID, or what comes nearest. Not to be shown. */
  key: string;
  /** Of its first folder, as the card was read. */
  device: bigint;
  ino: bigint;
  /** In the order of their paths. */
  files: InventoryFile[];
  /** Lists among them, by their names. None when the reading broke off. */
  lists: ListOnCard[];
  /** What of it could not be read, in words; `null`: all of it was read. */
  gap: string | null;
}

/** How one look at a mount ended. `empty`: nothing at all is on it yet, so that it may become a card. */
export type CardLook =
  | { is: 'card'; reading: CardReading }
  | { is: 'no-card'; empty: boolean }
  /** It could not be looked at; in words. */
  | { is: 'unknown'; why: string };

/** From a card's process to the daemon. Anything at all is a sign of life. */
export type FromCard =
  /** So many names were looked at. */
  | { type: 'progress'; names: number }
  | { type: 'recognised'; layout: string; name: string; key: string; device: bigint; ino: bigint }
  | { type: 'files'; files: InventoryFile[] }
  | { type: 'end'; is: 'card'; gap: string | null; lists: ListOnCard[] }
  | { type: 'end'; is: 'no-card'; empty: boolean }
  | { type: 'end'; is: 'unknown'; why: string };

/** Handed to a card's process as its only argument. */
export function encodeMount(mount: CardMount): string {
  return JSON.stringify(mount);
}

/** Reads what `encodeMount` wrote; throws when this process was not started by the daemon. */
export function decodeMount(text: string | undefined): CardMount {
  if (text === undefined) throw new Error('this program is started by headroomd, not by hand');
  return JSON.parse(text) as CardMount;
}
