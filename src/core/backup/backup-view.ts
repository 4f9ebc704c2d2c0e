import type { Instant } from '../model.ts';
import type { BackupRun } from './backup-run.ts';
import type { KnownShelf, ShelfSum } from './copies.ts';
import type { WaitReason } from './due.ts';
import type { NextBackup } from './due-next.ts';
import type { LossBeforeBackup } from './loss-chance.ts';
import type { ShelfRefusal } from './shelf-verdict.ts';
import type { NightFigures } from './window.ts';

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
  /** What is to come, by volume; those without a backup have none. */
  outlooks: ReadonlyMap<string, BackupOutlook>;
}

/** A night of one backup, with all its shelves that are there. */
export interface NightAhead extends NightFigures {
  shelves: number;
  /** When it begins; `null`: never. */
  slotAt: Instant | null;
}

/** What is to come of the backups of a volume. */
export interface BackupOutlook {
  /** The first of its jobs; `null`: none can be told. */
  next: NextBackup | null;
  /** Why none begins now; `null`: one does, or is under way. */
  wait: WaitReason | null;
  /** What is exposed, times how long; `null`: not known. */
  exposedTbHours: number | null;
  /** What each shelf lacks of the volume; `null`: not counted. */
  lacks: { shelf: string; bytes: number | null }[];
  /** What each job has to copy, beside its window; `null`: how fast it goes is not known yet. */
  nights: (NightAhead | null)[];
  /** `null`: what the volume lies on is not known, or when its next backup will end. */
  loss: LossBeforeBackup | null;
}

export const NO_BACKUPS: BackupView = { shelves: [], runs: [], sums: [], outlooks: new Map() };

/** Bytes that a shelf lacks of all its volumes together; `null`: not counted. One that is in two backups of a volume is told twice of the same. */
export function lackedBy(name: string, outlooks: BackupView['outlooks']): number | null {
  const each = [...outlooks.values()].flatMap(({ lacks }) => lacks.find(({ shelf }) => shelf === name) ?? []);
  if (each.length === 0 || each.some(({ bytes }) => bytes === null)) return null;
  return each.reduce((sum, { bytes }) => sum + (bytes ?? 0), 0);
}
