import type { Instant, PathText } from '../model.ts';
import type { RunCause } from './backup-run.ts';
import type { CommandExit } from './command-port.ts';

/** Closed set of why a program that copies did not do its work. Also log field. */
export type CommandFailure =
  | 'volume-absent'
  | 'command-missing'
  | 'command-not-permitted' // it is there, and may not be run
  | 'command-unusable' // the system cannot run it
  | 'command-failed' // it said so with its exit code
  | 'command-killed'
  | 'command-silent' // it ended well, and said nothing of any file
  | 'command-hangs' // its time was over, and it had said nothing
  | 'command-floods'
  | 'command-lost' // the process that watches it was killed
  | 'failed'; // none of these

export type CommandStage = 'waiting' | 'listing' | 'running' | 'reading-back' | 'done' | 'stopped' | 'failed';

export interface Amount {
  files: number;
  bytes: number;
}

/** Of one file, why it has no copy that counts. */
export interface CommandTrouble {
  path: PathText;
  message: string;
}

/** One run of a program that copies: how far it is, or how it came out. Serialisable as JSON. */
export interface CommandRun {
  volume: string;
  /** What it copies to. */
  name: string;
  cause: RunCause;
  stage: CommandStage;
  startedAt: Instant;
  endedAt: Instant | null;
  /** What was listed; `null`: not yet. */
  wanted: Amount | null;
  /** Of these, what it says that it has copied. */
  reported: Amount;
  /** Of what it has said, also in earlier runs, what was read back in this one and is as it should be, by how surely it came from a medium. */
  verified: Amount;
  /** The same, but a cache may have answered. */
  reread: Amount;
  /** Of these, what it says that failed. */
  failedFiles: number;
  /** With what was not as it said; and the first of them. */
  failures: number;
  troubles: CommandTrouble[];
  /** Lines that were no report, and reports of files that were not listed. */
  noReports: number;
  unknownFiles: number;
  progress: { share: number | null; message: string | null } | null;
  why: { reason: CommandFailure; message: string } | null;
}

/** Under this id the ledger has what was read back of a program's copies; shelves have other ids. */
export const commandShelf = (name: string): string => `command ${name}`;

const NOTHING: Amount = { files: 0, bytes: 0 };
const MOST_KEPT = 20;

export function newCommandRun(order: Pick<CommandRun, 'volume' | 'name' | 'cause' | 'startedAt'>): CommandRun {
  return {
    ...{ ...order, stage: 'waiting', endedAt: null, wanted: null, reported: NOTHING, verified: NOTHING },
    ...{
      reread: NOTHING,
      failedFiles: 0,
      failures: 0,
      troubles: [],
      noReports: 0,
      unknownFiles: 0,
      progress: null,
      why: null,
    },
  };
}

export function isCommandOver({ stage }: Pick<CommandRun, 'stage'>): boolean {
  return stage === 'done' || stage === 'stopped' || stage === 'failed';
}

/** Of one that was under way when the daemon ended. What it had said is in the ledger. */
export function wasCommandRunning(run: CommandRun): CommandRun {
  return isCommandOver(run) ? run : { ...run, stage: 'stopped' };
}

export function plus({ files, bytes }: Amount, size: number): Amount {
  return { files: files + 1, bytes: bytes + size };
}

export function withCommandTrouble(run: CommandRun, trouble: CommandTrouble): CommandRun {
  return { ...run, failures: run.failures + 1, troubles: [...run.troubles, trouble].slice(0, MOST_KEPT) };
}

/** Listed files of which the program said nothing. */
export function unsaid({
  wanted,
  reported,
  failedFiles,
}: Pick<CommandRun, 'wanted' | 'reported' | 'failedFiles'>): number {
  return wanted === null ? 0 : Math.max(0, wanted.files - reported.files - failedFiles);
}

/** What its end says of the run. `isStopping`: the daemon ends. The files that it told of count in any case. */
export function afterCommand(
  run: CommandRun,
  { exit, program, isStopping }: { exit: CommandExit; program: string; isStopping: boolean },
): Pick<CommandRun, 'stage' | 'why'> {
  const failed = (reason: CommandFailure, message: string): Pick<CommandRun, 'stage' | 'why'> => ({
    stage: 'failed',
    why: { reason, message },
  });
  const said = run.reported.files + run.failedFiles;
  const last = exit.errorText === '' ? '' : ` Its last words: ${exit.errorText}`;
  switch (exit.is) {
    case 'not-started':
      return notStarted(exit.code, program, failed);
    case 'lost':
      return failed('command-lost', `what watches ${program} ended (${exit.how}), and ended it. Begin it again.`);
    case 'flooded':
      return failed(
        'command-floods',
        `${program} printed far more than reports, and was ended. Let it print one line of JSON for each file, and all else to its standard error.`,
      );
    case 'killed':
      return failed(
        'command-killed',
        `${program} was killed (${exit.signal}). Look who did that: the system does so when memory runs out.${last}`,
      );
    case 'ended':
      if (isStopping || said > 0) return { stage: 'stopped', why: null };
      return failed(
        'command-hangs',
        `the time of ${program} was over and it had said nothing of any file, so it was ended. Try by hand whether it hangs, or give it a longer window.${last}`,
      );
    case 'exited':
      if (exit.code !== 0)
        return failed('command-failed', `${program} ended with code ${exit.code}; what that means, it knows.${last}`);
      if (said > 0) return { stage: 'done', why: null };
      return failed(
        'command-silent',
        `${program} ended well and said nothing of any file, so nothing counts as copied. Let it print a line of JSON for each file, as the README says.${last}`,
      );
  }
}

function notStarted<Ended>(
  code: string | null,
  program: string,
  failed: (reason: CommandFailure, message: string) => Ended,
): Ended {
  if (code === 'ENOENT' || code === 'ENOTDIR')
    return failed(
      'command-missing',
      `${program} is not there, or what its first line names is not. Put it there, or correct command in the configuration.`,
    );
  if (code === 'EACCES' || code === 'EPERM')
    return failed(
      'command-not-permitted',
      `${program} may not be run by this user. Make it executable: chmod +x ${program}`,
    );
  return failed(
    'command-unusable',
    `${program} cannot be run here (${code ?? 'unknown'}). Try by hand what the system says to it.`,
  );
}
