import { setTimeout as sleep } from 'node:timers/promises';
import { Fault } from '../core/fault.ts';
import { backupSentence } from '../core/present/backup-words.ts';
import { terminalJson } from '../core/present/escape.ts';
import { backupProgress, type Moment, noteMoment } from '../core/present/progress-words.ts';
import type { BackupSnapshot } from '../core/present/snapshot-backups.ts';
import { wrap } from '../core/present/text.ts';
import { isoWithOffset } from '../core/units.ts';
import type { DaemonClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, textWidth } from './io.ts';
import { type ProgressLine, progressLine } from './progress-line.ts';

const ASK_MS = 1_000;

/** A backup that was asked for: what it began as, for it may still wait for its turn. */
export interface AskedRun {
  volume: string;
  shelf: string;
  /** It is the one that began then or later (ms since 1970). */
  since: number;
}

/** Until all have ended. Whoever ends this ends the waiting alone, not the backups. */
export async function waitForBackups(
  io: CliIo,
  client: Pick<DaemonClient, 'ask'>,
  asked: readonly AskedRun[],
  asJson: boolean,
): Promise<number> {
  const line = progressLine(io, { silent: asJson });
  try {
    const runs = await untilOver(client, asked, line);
    line.end();
    return tellEnd(io, runs, asJson);
  } finally {
    line.end();
  }
}

async function untilOver(
  client: Pick<DaemonClient, 'ask'>,
  asked: readonly AskedRun[],
  line: ProgressLine,
): Promise<BackupSnapshot[]> {
  const moments = new Map<AskedRun, Moment[]>();
  for (;;) {
    const told = (await client.ask('/api/backup/now')) as { runs: BackupSnapshot[] } | null;
    if (told === null) {
      const next = 'What was copied stays copied; start it, and the next backup goes on from there';
      throw new Fault('no-daemon', `the daemon has ended meanwhile. ${next}.`);
    }
    const found = asked.map((one) => ({ one, run: told.runs.find((run) => isRun(run, one)) }));
    const over = found.flatMap(({ run }) => (run !== undefined && isOver(run) ? [run] : []));
    if (over.length === asked.length) return over;
    const lines = found.flatMap(({ one, run }) => {
      if (run !== undefined && isOver(run)) return [];
      if (run === undefined) return [`${one.volume} to ${one.shelf}: waits for its turn`];
      // Nothing is copied while the shelf is looked at: that time is none of the rate's.
      const before = run.state === 'looking' ? [] : (moments.get(one) ?? []);
      const noted = noteMoment(before, { ticks: performance.now(), bytes: run.movedBytes });
      moments.set(one, noted);
      return [`${run.volume} to ${run.shelf}: ${backupProgress(run, noted)}`];
    });
    // Those under way first: there is one line for all.
    line.tell(lines.toSorted((one, other) => Number(/turn$/.test(one)) - Number(/turn$/.test(other))).join('; '));
    await sleep(ASK_MS);
  }
}

/** Backups of project files by the hour are others. */
function isRun(run: BackupSnapshot, { volume, shelf, since }: AskedRun): boolean {
  if (run.volume !== volume || run.shelf !== shelf || run.reason === 'project-files') return false;
  return Date.parse(run.startedAt ?? '') >= since;
}

/** One that the end of a daemon stopped has no end of its own. */
function isOver({ state, endedAt }: BackupSnapshot): boolean {
  return state === 'stopped' || (endedAt !== null && ['done', 'broken', 'refused'].includes(state));
}

/** Well is what left nothing behind. */
function tellEnd(io: CliIo, runs: readonly BackupSnapshot[], asJson: boolean): number {
  const at = isoWithOffset(Date.now(), io.zone);
  const lines = runs.flatMap((run) => wrap(backupSentence(run, at), textWidth(io)));
  io.out(asJson ? `${terminalJson(runs)}\n` : `${lines.join('\n')}\n`);
  const isWell = ({ state, failures, changed }: BackupSnapshot) => state === 'done' && failures + changed === 0;
  return runs.every(isWell) ? exitCodes.ok : exitCodes.failed;
}
