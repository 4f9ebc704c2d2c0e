import type { BadCopy } from '../backup/backup-run.ts';
import { type VerifyRun, type VerifyStage, verifyVerdict } from '../backup/verify-run.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';

/** What is told of copies that are read again by command, without its instants. Paths are safe to show. */
export interface VerifyFigures {
  volume: string;
  shelf: string;
  /** `null`: all. */
  project: string | null;
  state: VerifyStage;
  /** `not-read`: not all of it was, and what was is as it was written. */
  verdict: ReturnType<typeof verifyVerdict>;
  /** What is to be read in all; `null`: not counted yet. */
  allFiles: number | null;
  allBytes: number | null;
  files: number;
  bytes: number;
  /** Of the files, those that one before had read, which was ended in the middle. */
  earlierFiles: number;
  /** Read by the job that goes on, with what is under way. */
  movedBytes: number;
  differing: number;
  unread: number;
  gone: number;
  goneFirst: string[];
  bad: BadCopySnapshot[];
  why: string | null;
}

/** A copy that is not what was written, its file on the volume, and another copy of what was written. */
export interface BadCopySnapshot {
  path: string;
  state: BadCopy['state'];
  source: string;
  /** How the file on the volume was found then. */
  sourceIs: BadCopy['is'];
  elsewhere: { shelf: string; path: string; verified: boolean } | null;
}

export type VerifySnapshot = VerifyFigures & { askedAt: IsoTime; endedAt: IsoTime | null };

export function verifyFigures(run: VerifyRun): VerifyFigures {
  const { files, bytes, earlierFiles, movedBytes, differing, unread, gone } = run;
  return {
    ...{ volume: display(run.volume), shelf: display(run.shelf), project: displayOrNull(run.project) },
    ...{ state: run.stage, verdict: verifyVerdict(run) },
    ...{ allFiles: run.all?.files ?? null, allBytes: run.all?.bytes ?? null },
    ...{ files, bytes, earlierFiles, movedBytes, differing, unread, gone, goneFirst: run.goneFirst.map(display) },
    bad: run.bad.map(badSnapshot),
    why: run.why === null ? null : display(run.why.message),
  };
}

export function badSnapshot({ path, source, state, is, elsewhere }: BadCopy): BadCopySnapshot {
  return {
    ...{ path: display(path), state, source: display(source), sourceIs: is },
    elsewhere:
      elsewhere === null
        ? null
        : { shelf: display(elsewhere.shelf), path: display(elsewhere.path), verified: elsewhere.verified },
  };
}

export function verifySnapshot(run: VerifyRun, iso: IsoOf): VerifySnapshot {
  return { ...verifyFigures(run), askedAt: iso(run.askedAt), endedAt: run.endedAt === null ? null : iso(run.endedAt) };
}
