import type { Instant, PathText } from '../model.ts';
import type { BackupRun, BadCopy } from './backup-run.ts';

export type VerifyStage = 'waiting' | 'looking' | 'reading' | 'paused' | 'done' | 'stopped' | 'broken' | 'refused';

/** The copies of a volume on a shelf, read again because somebody asked: how far it is, or how it came out. Serialisable as JSON. */
export interface VerifyRun {
  volume: string;
  /** As the configuration calls it. */
  shelf: string;
  /** `null`: all. */
  project: string | null;
  stage: VerifyStage;
  /** Every copy that was last read before is read. */
  before: Instant;
  askedAt: Instant;
  endedAt: Instant | null;
  /** What is to be read in all; `null`: not counted yet. Copies that are gone count as files, without bytes. */
  all: { files: number; bytes: number } | null;
  files: number;
  bytes: number;
  /** Of the files, those that one before, which was ended in the middle, had read. */
  earlierFiles: number;
  /** Read by the job that goes on, with what is under way. */
  movedBytes: number;
  differing: number;
  unread: number;
  gone: number;
  /** The first of them. */
  goneFirst: PathText[];
  /** The first that are not what was written, or could not be read. */
  bad: BadCopy[];
  /** Why it was refused, or broke off. */
  why: BackupRun['why'];
}

export interface VerifyAsk {
  volume: string;
  shelf: string;
  project: string | null;
  /** What one that was ended in the middle had read is read again as well. */
  anew: boolean;
}

/** One that was ended in the middle is gone on with for so long; then what it read is too old to be called read now. */
const GOES_ON_MS = 7 * 86_400_000;

/** A run that waits for its turn; it goes on where the last one was ended, if that was for the same. */
export function newVerify(ask: VerifyAsk, last: VerifyRun | null, now: Instant): VerifyRun {
  const { volume, shelf, project } = ask;
  const kept = ask.anew || last === null || !canGoOn(last, ask, now) ? null : last;
  return {
    ...{ volume, shelf, project, stage: 'waiting', before: kept?.before ?? now, askedAt: now, endedAt: null },
    ...{ all: null, files: 0, bytes: 0, earlierFiles: 0, movedBytes: 0, differing: 0, unread: 0 },
    ...{ gone: kept?.gone ?? 0, goneFirst: kept?.goneFirst ?? [], bad: kept?.bad ?? [], why: null },
  };
}

/** A clock that was ahead when it began is no reason to read nothing. */
function canGoOn({ stage, project, before }: VerifyRun, ask: VerifyAsk, now: Instant): boolean {
  return stage !== 'done' && project === ask.project && before <= now && now - before < GOES_ON_MS;
}

export function isVerifyOver({ stage }: Pick<VerifyRun, 'stage'>): boolean {
  return stage === 'done' || stage === 'stopped' || stage === 'broken' || stage === 'refused';
}

/** Of one that was under way when the daemon ended. What it had read is in the ledger. */
export function wasVerifying(run: VerifyRun): VerifyRun {
  return isVerifyOver(run) ? run : { ...run, stage: 'stopped' };
}

/** `not-read`: it did not come to its end, and nothing is known of the rest. */
export function verifyVerdict({
  stage,
  differing,
  unread,
  gone,
}: Pick<VerifyRun, 'stage' | 'differing' | 'unread' | 'gone'>): 'as-written' | 'not-as-written' | 'not-read' {
  if (differing + unread + gone > 0) return 'not-as-written';
  return stage === 'done' ? 'as-written' : 'not-read';
}
