import type { Instant, PathText } from '../model.ts';
import type { BackupRun, BadCopy } from './backup-run.ts';
import type { CommandRun } from './command-run.ts';
import type { KnownShelf, ReportedSum, ShelfSum } from './copies.ts';
import type { WaitReason } from './due.ts';
import type { NextBackup } from './due-next.ts';
import type { DueNight } from './due-nights.ts';
import type { LossBeforeBackup } from './loss-chance.ts';
import type { ShelfRefusal } from './shelf-verdict.ts';
import type { VerifyRun } from './verify-run.ts';
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
  /** It is there, and nothing can be written to it. Left out where it can, or where nobody can tell. */
  readOnly?: true;
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
  /** Of each volume and shelf, what was found wrong. */
  findings: readonly ShelfFindings[];
  /** Of each volume and shelf the last reading by command, or the one that is under way. */
  verifications: readonly VerifyRun[];
  /** Programs of the user's that copy. */
  commands: readonly CommandState[];
  /** What is to come, by volume; those without a backup have none. */
  outlooks: ReadonlyMap<string, BackupOutlook>;
}

/** What is wrong with the copies of a volume on a shelf, until a reading finds it right. */
export interface ShelfFindings {
  volume: string;
  /** As the configuration calls it. */
  shelf: string;
  /** The first copies that are not what was written, those first of which more is known. */
  bad: BadCopy[];
  badFiles: number;
  /** The first recordings on the volume that are not what was copied before. */
  altered: PathText[];
  /** Within which each copy is to be read again; and those that were not. */
  rereadSeconds: number;
  late: { files: number; bytes: number };
}

/** A program of the user's that copies, and what it says that it has copied. */
export interface CommandState {
  volume: string;
  /** What it copies to. */
  name: string;
  /** `null`: it has not run yet. */
  run: CommandRun | null;
  reported: ReportedSum | null;
  /** When it begins by itself. */
  nextAt: Instant | null;
}

/** A night of one backup, with all its shelves that are there. */
export interface NightAhead extends NightFigures {
  shelves: number;
  /** When it begins; `null`: never. */
  slotAt: Instant | null;
  /** A backup of this kind is under way now, and copies what the night would have to. */
  isRunning: boolean;
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
  /** Of each job and shelf, the nights that it owes and the next one. */
  due: readonly DueNight[];
  /** `null`: what the volume lies on is not known, or when its next backup will end. */
  loss: LossBeforeBackup | null;
}

export const NO_BACKUPS: BackupView = {
  ...{ shelves: [], runs: [], sums: [], findings: [], verifications: [], commands: [] },
  outlooks: new Map(),
};

/** Bytes that a shelf lacks of all its volumes together; `null`: not counted. One that is in two backups of a volume is told twice of the same. */
export function lackedBy(name: string, outlooks: BackupView['outlooks']): number | null {
  const each = [...outlooks.values()].flatMap(({ lacks }) => lacks.find(({ shelf }) => shelf === name) ?? []);
  if (each.length === 0 || each.some(({ bytes }) => bytes === null)) return null;
  return each.reduce((sum, { bytes }) => sum + (bytes ?? 0), 0);
}
