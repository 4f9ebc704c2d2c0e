import type { Instant, PathText } from '../model.ts';
import type { CopyTrouble } from './copy-port.ts';
import type { RunEnd, StartReason } from './due-state.ts';
import type { ShelfRefusal } from './shelf-verdict.ts';

/** Why a run was started. */
export type RunCause = 'command' | 'project-files' | StartReason;

export type RunStage = 'looking' | 'copying' | 'paused' | 're-reading' | 'done' | 'stopped' | 'broken' | 'refused';

/** One backup from a volume to a shelf: how far it is, or how it came out. */
export interface BackupRun {
  volume: string;
  /** As the configuration calls it. */
  shelf: string;
  cause: RunCause;
  stage: RunStage;
  startedAt: Instant;
  endedAt: Instant | null;
  /** What the shelf lacked when it began; `null`: not counted yet. */
  wanted: { files: number; bytes: number } | null;
  /** Copied, or found there whole. */
  files: number;
  bytes: number;
  /** Of these, read back from the medium. */
  verifiedFiles: number;
  verifiedBytes: number;
  /** Written and read back so far, those under way as well. */
  movedBytes: number;
  /** How long it copied and read back: without looking, and without what it stood still for others. */
  copyingSeconds: number;
  /** Files that changed while they were copied: the next run takes them. */
  changed: number;
  failures: number;
  /** Of the failures the first. */
  troubles: CopyTrouble[];
  /** Camera originals and sound that are not what was copied before. The earlier copy stays where it is. */
  altered: PathText[];
  /** Copies that were read again, and what of them is no longer what was written. */
  reread: number;
  bad: BadCopy[];
  /** Copies that somebody took away from the shelf. */
  gone: number;
  /** Why it was refused, or broke off. */
  why: { reason: ShelfRefusal | CopyTrouble['reason'] | 'shelf-mark' | 'no-room'; message: string } | null;
}

/** A copy that is not what was written, and how its file on the working volume was found then. */
export interface BadCopy {
  path: PathText;
  source: PathText;
  state: 'differs' | 'unread';
  /** `unknown`: it was not read again yet. */
  is: 'as-copied' | 'differs' | 'unread' | 'unknown';
  /** Another copy of what was written, on the shelf of that name; `null`: none is known. */
  elsewhere: { shelf: string; path: PathText; verified: boolean; readAt: Instant } | null;
}

/** More than this of one kind is not kept word for word. */
export const MOST_KEPT = 20;

export function newRun(order: Pick<BackupRun, 'volume' | 'shelf' | 'cause' | 'startedAt'>): BackupRun {
  return {
    ...{
      ...order,
      stage: 'looking',
      endedAt: null,
      wanted: null,
      files: 0,
      bytes: 0,
      verifiedFiles: 0,
      verifiedBytes: 0,
    },
    ...{
      movedBytes: 0,
      copyingSeconds: 0,
      changed: 0,
      failures: 0,
      troubles: [],
      altered: [],
      reread: 0,
      bad: [],
      gone: 0,
      why: null,
    },
  };
}

/** It has ended, one way or the other. */
export function isOver({ stage }: Pick<BackupRun, 'stage'>): boolean {
  return stage === 'done' || stage === 'stopped' || stage === 'broken' || stage === 'refused';
}

/** What may go by itself: the rest waits for a person, or for the night. */
const MAY_PASS: ReadonlySet<CopyTrouble['reason']> = new Set([
  'shelf-damaged',
  'source-unreadable',
  'no-resources',
  'no-answer',
  'process-ended',
  'failed',
]);

/** How one that is over ended, for whoever decides when the next one begins. */
export function endOfRun({ stage, troubles }: Pick<BackupRun, 'stage' | 'troubles'>): RunEnd {
  if (stage === 'stopped') return 'stopped';
  if (stage !== 'done') return 'failed';
  return troubles.some(({ reason }) => MAY_PASS.has(reason)) ? 'failed' : 'done';
}

export function withTrouble(run: BackupRun, trouble: CopyTrouble): BackupRun {
  return { ...run, failures: run.failures + 1, troubles: [...run.troubles, trouble].slice(0, MOST_KEPT) };
}
