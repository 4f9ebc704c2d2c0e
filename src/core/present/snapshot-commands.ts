import type { BackupView, CommandState } from '../backup/backup-view.ts';
import { type CommandStage, commandShelf, unsaid } from '../backup/command-run.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';

/** A program of the user's that copies: what it says, what of that was read back, and its last run. */
export interface CommandSnapshot {
  volume: string;
  /** What it copies to. */
  name: string;
  /** `null`: it has not run yet. */
  state: CommandStage | null;
  startedAt: IsoTime | null;
  endedAt: IsoTime | null;
  nextAt: IsoTime | null;
  /** What was listed for it. */
  wantedFiles: number | null;
  wantedBytes: number | null;
  /** Of these, what it says that it has copied, what failed by its word, and of how many it said nothing. */
  reportedFiles: number;
  reportedBytes: number;
  failedFiles: number;
  unsaidFiles: number;
  /** With what was not as it said. */
  failures: number;
  troubles: { path: string; message: string }[];
  noReports: number;
  unknownFiles: number;
  /** 0 to 1, by its word; and its words. */
  progress: number | null;
  progressMessage: string | null;
  /** Why it did not do its work, from a closed set, and in a sentence. */
  reason: string | null;
  why: string | null;
  /** In all runs: what it says that it has of what is on the volume, and what was read back from a medium. */
  copies: { reportedFiles: number; reportedBytes: number; verifiedFiles: number; verifiedBytes: number };
}

export function commandSnapshot(state: CommandState, { sums }: BackupView, iso: IsoOf): CommandSnapshot {
  const { volume, name, run, reported, nextAt } = state;
  const instant = (at: number | null | undefined) => (at == null ? null : iso(at));
  const read = sums.find((sum) => sum.shelf === commandShelf(name) && sum.volume === volume);
  return {
    ...{ volume: display(volume), name: display(name), state: run?.stage ?? null },
    ...{ startedAt: instant(run?.startedAt), endedAt: instant(run?.endedAt), nextAt: instant(nextAt) },
    ...{ wantedFiles: run?.wanted?.files ?? null, wantedBytes: run?.wanted?.bytes ?? null },
    ...{ reportedFiles: run?.reported.files ?? 0, reportedBytes: run?.reported.bytes ?? 0 },
    ...{
      failedFiles: run?.failedFiles ?? 0,
      unsaidFiles: run === null ? 0 : unsaid(run),
      failures: run?.failures ?? 0,
    },
    troubles: (run?.troubles ?? []).map(({ path, message }) => ({ path: display(path), message: display(message) })),
    ...{ noReports: run?.noReports ?? 0, unknownFiles: run?.unknownFiles ?? 0 },
    progress: run?.progress?.share ?? null,
    progressMessage: displayOrNull(run?.progress?.message ?? null),
    ...{ reason: run?.why?.reason ?? null, why: displayOrNull(run?.why?.message ?? null) },
    copies: {
      ...{ reportedFiles: reported?.presentFiles ?? 0, reportedBytes: reported?.presentBytes ?? 0 },
      ...{ verifiedFiles: read?.verifiedFiles ?? 0, verifiedBytes: read?.verifiedBytes ?? 0 },
    },
  };
}
