import type { Instant } from '../model.ts';
import type { BackupRun } from './backup-run.ts';
import type { KnownShelf, OnlyOnShelf, ShelfSum } from './copies.ts';
import type { ShelfRefusal } from './shelf-verdict.ts';

/** A shelf of the configuration, and how it was found at the last look. */
export interface ShelfState {
  name: string;
  path: string;
  rotate: boolean;
  /** Those it holds copies of. */
  volumes: readonly string[];
  /** `ready`; else why not. `new`: it gets its marker with the first backup. `null`: not looked at yet. */
  state: 'ready' | 'new' | ShelfRefusal | null;
  message: string | null;
  lookedAt: Instant | null;
  /** As it was last seen. */
  known: KnownShelf | null;
  /** When it will be full, in 10, 50 and 90 % of cases, as footage comes; `null`: later than can be told. The whole is `null` where too little is known. */
  full: { at10: Instant | null; at50: Instant | null; at90: Instant | null } | null;
}

/** What is known of backups, kept at hand. */
export interface BackupView {
  shelves: readonly ShelfState[];
  /** Of each volume and shelf the last run, or the one that is under way. */
  runs: readonly BackupRun[];
  sums: readonly ShelfSum[];
  onlyOnShelves: readonly OnlyOnShelf[];
  /** When the next nightly backup of a volume begins. */
  nextAt: ReadonlyMap<string, Instant>;
}

export const NO_BACKUPS: BackupView = { shelves: [], runs: [], sums: [], onlyOnShelves: [], nextAt: new Map() };
