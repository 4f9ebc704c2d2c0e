import type { RunCause } from '../../core/backup/backup-run.ts';
import type { CommandLines, CommandPort } from '../../core/backup/command-port.ts';
import { filledIn, pathBelow, readReport } from '../../core/backup/command-report.ts';
import {
  afterCommand,
  type CommandRun,
  newCommandRun,
  plus,
  withCommandTrouble,
} from '../../core/backup/command-run.ts';
import {
  BACKUP_RANKS,
  PROJECT_FILE_RANK,
  type ReportedCopy,
  type ReportedStorePort,
} from '../../core/backup/copies.ts';
import { messageOf } from '../../core/fault.ts';
import type { FileRecord, Instant, PathText } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { isFresh } from './backlog-items.ts';
import { type ReadBackDeps, readBackReports } from './command-read-back.ts';

/** A program of the user's that copies a volume. */
export interface CommandJob {
  volume: { name: string; path: string };
  name: string;
  /** With what stands for the list and the folder. */
  argv: readonly string[];
  /** Absolute folder below which its copies can be read; `null`: none. */
  readBack: string | null;
}

export interface CommandDeps extends ReadBackDeps {
  commands: CommandPort;
  reported: ReportedStorePort;
  clock: Clock;
  /** Is the volume there, by its name? */
  isLive: (volume: string) => boolean;
}

export interface CommandAsk {
  job: CommandJob;
  cause: RunCause;
  startedAt: Instant;
}

/** So many lines that say nothing are borne, besides one for each file. */
const JUNK_BORNE = 1_000;

/**
 * One run: lists what the program has not said that it copied, runs it, and keeps what it says, line by line; then what can be read back is, and
 * compared. `stopping`: the daemon ends. `time`: its time is over.
 */
export async function runCommand(
  deps: CommandDeps,
  ask: CommandAsk,
  signals: { stopping: AbortSignal; time: AbortSignal },
  changed: (run: CommandRun) => void,
): Promise<CommandRun> {
  const run = new Running(deps, ask, changed);
  try {
    await run.copy(signals);
    await run.readBack(signals.stopping);
  } catch (error) {
    run.fail(`the copying for ${ask.job.name} broke off: ${messageOf(error)}. Begin it again.`);
  }
  return run.end();
}

class Running {
  readonly #deps: CommandDeps;
  readonly #job: CommandJob;
  readonly #changed: (run: CommandRun) => void;
  readonly #cause: RunCause;
  /** Listed, and nothing was said of them yet. */
  readonly #listed = new Map<PathText, FileRecord>();
  #run: CommandRun;

  constructor(deps: CommandDeps, { job, cause, startedAt }: CommandAsk, changed: (run: CommandRun) => void) {
    this.#deps = deps;
    this.#job = job;
    this.#cause = cause;
    this.#changed = changed;
    this.#run = newCommandRun({ volume: job.volume.name, name: job.name, cause, startedAt });
  }

  async copy({ stopping, time }: { stopping: AbortSignal; time: AbortSignal }): Promise<void> {
    const { name, argv, volume } = this.#job;
    if (!this.#deps.isLive(volume.name)) {
      const message = `${display(volume.name)} is not there, so there is nothing to copy from. Connect it again.`;
      return this.#set({ stage: 'failed', why: { reason: 'volume-absent', message } });
    }
    this.#set({ stage: 'listing' });
    const list = await this.#deps.commands.writeList(name, this.#list());
    const sizes = [...this.#listed.values()].reduce((sum, { size }) => sum + size, 0);
    this.#set({ wanted: { files: this.#listed.size, bytes: sizes } });
    // A program that has nothing to do is not called.
    if (this.#listed.size === 0) return this.#set({ stage: 'done' });
    this.#set({ stage: 'running' });
    const order = { name, argv: filledIn(argv, { list, root: volume.path }) };
    const signal = AbortSignal.any([stopping, time]);
    const exit = await this.#deps.commands.run(order, (some) => this.#hear(some), signal);
    this.#set(afterCommand(this.#run, { exit, program: argv[0] ?? '', isStopping: stopping.aborted }));
  }

  /** What it said to be readable, also in a run before that did not come to this. */
  async readBack(stopping: AbortSignal): Promise<void> {
    const { readBack } = this.#job;
    if (readBack === null || stopping.aborted) return;
    const { stage, why } = this.#run;
    this.#set({ stage: 'reading-back' });
    await readBackReports(this.#deps, { ...this.#job, readBack }, stopping, {
      good: (size, isVerified) => {
        const key = isVerified ? 'verified' : 'reread';
        this.#set({ [key]: plus(this.#run[key], size) });
      },
      trouble: (trouble) => this.#set(withCommandTrouble(this.#run, trouble)),
    });
    this.#set({ stage, why });
  }

  fail(message: string): void {
    this.#set({ stage: 'failed', why: { reason: 'failed', message } });
  }

  end(): CommandRun {
    this.#set({ endedAt: this.#deps.clock.now() });
    return this.#run;
  }

  async *#list(): AsyncGenerator<PathText> {
    const now = this.#deps.clock.now();
    for (const rank of BACKUP_RANKS.keys()) {
      let after: number | null = null;
      do {
        const page = await this.#deps.reported.unreported(this.#job.volume.name, this.#job.name, rank, after);
        for (const file of page.files) {
          if (rank === PROJECT_FILE_RANK && isFresh(file, now, this.#cause)) continue;
          this.#listed.set(file.path, file);
          yield file.path;
        }
        after = page.next;
      } while (after !== null);
    }
  }

  /** False when it says far too much that is no report. */
  async #hear({ lines, tooLong }: CommandLines): Promise<boolean> {
    const copies: ReportedCopy[] = [];
    let run: CommandRun = { ...this.#run, noReports: this.#run.noReports + tooLong };
    for (const line of lines) {
      const report = readReport(line);
      if (typeof report === 'string') run = { ...run, noReports: run.noReports + 1 };
      else if (report.is === 'progress') {
        run = { ...run, progress: { share: report.share, message: report.message } };
      } else {
        const file = this.#listed.get(report.file);
        this.#listed.delete(report.file);
        if (file === undefined) run = { ...run, unknownFiles: run.unknownFiles + 1 };
        else if (report.is === 'failed') {
          run = {
            ...withCommandTrouble(run, failedOf(file, this.#job, report.message)),
            failedFiles: run.failedFiles + 1,
          };
        } else {
          copies.push(this.#copyOf(file, report));
          run = { ...run, reported: plus(run.reported, file.size) };
        }
      }
    }
    // In the ledger first: what is told is kept.
    await this.#deps.reported.putReported(copies);
    this.#set(run);
    const { noReports, unknownFiles, wanted } = this.#run;
    return noReports + unknownFiles <= JUNK_BORNE + (wanted?.files ?? 0);
  }

  #copyOf(file: FileRecord, { place, readAt }: { place: string | null; readAt: PathText | null }): ReportedCopy {
    const { volume, path: source, size, mtimeNs } = file;
    const { name, readBack } = this.#job;
    // What lies elsewhere is not looked at: a program may say anything.
    const readPath = readAt === null || readBack === null ? null : pathBelow(readBack, readAt);
    return { name, volume, source, size, mtimeNs, place, readPath, reportedAt: this.#deps.clock.now() };
  }

  #set(change: Partial<CommandRun>): void {
    this.#run = { ...this.#run, ...change };
    this.#changed(this.#run);
  }
}

function failedOf(
  { path }: FileRecord,
  { name }: CommandJob,
  said: string | null,
): { path: PathText; message: string } {
  return {
    path,
    message: `${display(path)} was not copied to ${display(name)}: ${display(said ?? 'the program does not say why')}`,
  };
}
