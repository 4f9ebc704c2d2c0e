import type { RunCause } from '../../core/backup/backup-run.ts';
import type { CommandState } from '../../core/backup/backup-view.ts';
import { type CommandRun, isCommandOver, newCommandRun, wasCommandRunning } from '../../core/backup/command-run.ts';
import type { BackupStorePort, ReportedSum } from '../../core/backup/copies.ts';
import { messageOf } from '../../core/fault.ts';
import type { Instant } from '../../core/model.ts';
import type { Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { type CommandDeps, type CommandJob, runCommand } from './command-run.ts';
import { tellCommand } from './tell-run.ts';
import { windowUntil } from './window-until.ts';

export interface CommandFlowJob extends CommandJob {
  windowSeconds: number;
}

export interface CommandFlowDeps extends CommandDeps {
  store: CommandDeps['store'] & Pick<BackupStorePort, 'backupNote' | 'putBackupNote'>;
  jobs: readonly CommandFlowJob[];
  log: Log;
  /** When one begins by itself. */
  nextAt: (volume: string, name: string) => Instant | null;
  changed: () => void;
  /** Copies are known that were not. */
  refresh: () => Promise<void>;
  ended: (run: CommandRun) => Promise<void>;
}

/** Programs of the user's that copy: one at a time, beside the backups to shelves. */
export interface CommandFlow {
  start(): Promise<void>;
  /** Begins those of a name, or all; what was begun, or waits. `until`: `null` is when its window, from now on, is over. */
  now(ask: { name: string | null; cause: RunCause; until: Instant | null }): string[];
  view(): CommandState[];
  stop(): Promise<void>;
}

const TELL_MS = 2_000;

interface Order {
  job: CommandFlowJob;
  cause: RunCause;
  until: Instant | null;
}

export function createCommandFlow(deps: CommandFlowDeps): CommandFlow {
  const { jobs, store, reported, clock, log, changed } = deps;
  const stopping = new AbortController();
  const runs = new Map<CommandFlowJob, CommandRun>();
  const waiting: Order[] = [];
  let sums: ReportedSum[] = [];
  let working: Promise<void> | null = null;

  function report(error: unknown): void {
    log.error({ error: messageOf(error) }, 'What programs say of their copies could not be read or kept.');
  }

  async function work(): Promise<void> {
    for (let order = waiting.shift(); order !== undefined; order = waiting.shift()) {
      if (stopping.signal.aborted) return;
      await runOne(order).catch(report);
    }
  }

  async function runOne({ job, cause, until }: Order): Promise<void> {
    let told = { stage: '', at: Number.NEGATIVE_INFINITY };
    const note = (run: CommandRun): void => {
      runs.set(job, run);
      // Killed in the middle, the next daemon knows that it ran.
      if (run.stage !== told.stage) void store.putBackupNote(keyOf(job), JSON.stringify(run)).catch(report);
      if (run.stage === told.stage && clock.ticks() - told.at < TELL_MS) return;
      told = { stage: run.stage, at: clock.ticks() };
      changed();
    };
    const startedAt = clock.now();
    const window = windowUntil(until ?? startedAt + job.windowSeconds * 1000, clock);
    try {
      const signals = { stopping: stopping.signal, time: window.signal };
      const run = await runCommand(deps, { job, cause, startedAt }, signals, note);
      tellCommand(log, run);
      await store.putBackupNote(keyOf(job), JSON.stringify(run));
      sums = await reported.reportedSums();
      await deps.refresh();
    } finally {
      window.close();
      const last = runs.get(job);
      if (last !== undefined && !stopping.signal.aborted) await deps.ended(last);
      changed();
    }
  }

  return {
    async start() {
      for (const job of jobs) {
        const kept = await store.backupNote(keyOf(job));
        if (kept !== null) runs.set(job, wasCommandRunning(JSON.parse(kept) as CommandRun));
      }
      sums = await reported.reportedSums();
    },
    now({ name, cause, until }) {
      const wanted = jobs.filter((job) => name === null || job.name === name);
      for (const job of wanted) {
        const last = runs.get(job);
        if (waiting.some((order) => order.job === job) || (last !== undefined && !isCommandOver(last))) continue;
        waiting.push({ job, cause, until });
        // Whoever looks sees that it is heard, also while another one runs.
        runs.set(job, newCommandRun({ volume: job.volume.name, name: job.name, cause, startedAt: clock.now() }));
      }
      working ??= work().finally(() => {
        working = null;
      });
      return wanted.map((job) => `${display(job.volume.name)} to ${display(job.name)}`);
    },
    view: () =>
      jobs.map((job) => {
        const { name, volume } = job;
        const sum = sums.find((one) => one.name === name && one.volume === volume.name) ?? null;
        return {
          ...{ volume: volume.name, name, run: runs.get(job) ?? null, reported: sum },
          nextAt: deps.nextAt(volume.name, name),
        };
      }),
    async stop() {
      stopping.abort();
      await working;
    },
  };
}

const keyOf = ({ volume, name }: CommandJob): string => `command ${JSON.stringify([volume.name, name])}`;
