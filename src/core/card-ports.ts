import type { CopyTally } from './cards/copy-tally.ts';
import type { Candidate, Inventory, InventoryFile } from './cards/inventory.ts';
import type { KeptCard } from './cards/kept-card.ts';
import type { Place } from './cards/reconciliation.ts';
import type { PathText } from './model.ts';

/** An inventory without its files: of a full card those are many. */
export type InventoryHead = Omit<Inventory, 'files'>;

/** A short text that is kept for the cards: what had arrived of one (under its id), which copied cards were never seen. */
export interface CardNote {
  key: string;
  text: string;
}

/**
 * The cards' part of the store, besides what `LedgerPort` and `CataloguePort` tell: inventories piece by piece. Heads and
 * notes are in the ledger, committed durably before a call resolves.
 */
export interface CardStorePort {
  /** Of all inventories that were not dropped, newest first. */
  inventoryHeads(): Promise<InventoryHead[]>;
  /** Nothing of an inventory that is not kept. */
  inventoryFiles(id: string): Promise<InventoryFile[]>;
  /** What the catalogue knows at these places, in their order; nothing of a place where it knows nothing. */
  filesAt(places: Place[]): Promise<Candidate[]>;
  /** In the order of their keys. `dropInventory` takes the note with its id along. */
  cardNotes(): Promise<CardNote[]>;
  putCardNote(note: CardNote): Promise<void>;
  /** What was said of cards, in the order of their ids. `dropInventory` takes it along. */
  keptCards(): Promise<KeptCard[]>;
  /** Replaces what was said of the same card. */
  putKeptCard(kept: KeptCard): Promise<void>;
  /** False: nothing was said of it. */
  dropKeptCard(inventory: string): Promise<boolean>;
}

/** Verified copies of files that arrived. Each call looks up these files alone. */
export interface CopyLookPort {
  copiesAt(places: readonly Place[]): Promise<CopyTally>;
  /** Of the files in a folder that are not arriving; with all that lies below it when `deep`. */
  copiesBelow(volume: string, folder: PathText, deep: boolean): Promise<CopyTally>;
}
