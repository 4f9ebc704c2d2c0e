import type { FileState, Instant, PathText } from '../model.ts';

/** One file of an inventory, relative to where the inventory begins (the card's root, or the manifest's folder). */
export interface InventoryFile {
  path: PathText;
  /** Bytes; `null` where the list gives none (plain checksum lists). */
  size: number | null;
  /** Modification time, ms since 1970; `null` where the list gives none. FAT cards keep it to 2 s and in local time. */
  mtimeMs: number | null;
}

/**
 * Names and sizes of what should arrive: read from a mounted card (read-only, no file is opened), or from a manifest that
 * came with the footage. It says nothing about contents.
 */
export interface Inventory {
  /** Stable: the same card with the same content, or the same manifest, gives the same id. */
  id: string;
  source: 'card' | 'manifest';
  /** What a person calls it: the card's label, or the folder that the manifest speaks of. */
  name: string;
  /** Layout the card was recognised by, as the trade names it ("P2", "AVCHD", "DCIM"); `null` for a manifest. */
  layout: string | null;
  /** Mount point of the card, absolute; of a manifest its path on the volume. */
  place: string;
  /** Of a manifest: the volume it lies on, and the folder its paths begin at. `null` for a card: its files may arrive anywhere. */
  on: { volume: string; base: PathText } | null;
  /** When it was last read. */
  takenAt: Instant;
  /** What could not be read of it, in words; `null`: all of it was read. */
  gap: string | null;
  files: InventoryFile[];
}

/** A file on a volume that may be the arrived copy of an inventory's file. */
export interface Candidate {
  volume: string;
  path: PathText;
  size: number;
  mtimeMs: number;
  state: FileState;
}
