import { Worker } from 'node:worker_threads';
import type { CopyStep } from '../../core/backup/copy-failure.ts';
import type { SumFormat } from '../../core/backup/sums.ts';
import type { SharedPace } from './pace.ts';
import type { CallPath, PublishResult, ReadResult, Task, WriteResult } from './steps.ts';

export interface PublishTask {
  task: Task;
  hash: string;
  found: boolean;
}

export interface ReadTask {
  index: number;
  path: CallPath;
  step: CopyStep;
  size: number;
  also: readonly SumFormat[];
}

/** To a thread. */
export type Work =
  | { do: 'write'; tasks: Task[] }
  | { do: 'publish'; tasks: PublishTask[] }
  | { do: 'read'; tasks: ReadTask[] };

/** From a thread: one result for each task of the work, in order. */
export type Told = { index: number; result: WriteResult | PublishResult | ReadResult }[];

/** Waiting for a drive is what they do most: more of them than processors hide it. */
const THREADS = 8;
/** Files of one message. Few enough that all threads end at about the same time. */
const AT_ONCE = 32;

/** Several threads that take small files from one list. */
export class SmallLane {
  readonly #pace: SharedPace;
  readonly #threads: Worker[] = [];
  readonly #wanted: number;

  constructor(pace: SharedPace, threads = THREADS) {
    this.#pace = pace;
    this.#wanted = threads;
  }

  write(tasks: Task[], told: (index: number, result: WriteResult) => void): Promise<void> {
    return this.#run(tasks, (part) => ({ do: 'write', tasks: part }), told);
  }

  publish(tasks: PublishTask[], told: (index: number, result: PublishResult) => void): Promise<void> {
    return this.#run(tasks, (part) => ({ do: 'publish', tasks: part }), told);
  }

  read(tasks: ReadTask[], told: (index: number, result: ReadResult) => void): Promise<void> {
    return this.#run(tasks, (part) => ({ do: 'read', tasks: part }), told);
  }

  async end(): Promise<void> {
    await Promise.all(this.#threads.map((thread) => thread.terminate()));
  }

  /** Each thread takes the next few, until there are none. @throws what a thread threw: a defect of ours */
  async #run<T, R>(tasks: T[], pack: (part: T[]) => Work, told: (index: number, result: R) => void): Promise<void> {
    if (tasks.length === 0) return;
    const each = Math.max(1, Math.min(AT_ONCE, Math.ceil(tasks.length / this.#wanted)));
    let next = 0;
    const serve = async (thread: Worker): Promise<void> => {
      while (next < tasks.length) {
        const part = tasks.slice(next, next + each);
        next += part.length;
        for (const { index, result } of await ask(thread, pack(part))) told(index, result as R);
      }
    };
    await Promise.all(this.#threadsFor(Math.ceil(tasks.length / each)).map(serve));
  }

  #threadsFor(parts: number): Worker[] {
    while (this.#threads.length < Math.min(parts, this.#wanted))
      this.#threads.push(
        new Worker(new URL('./worker.ts', import.meta.url), { workerData: this.#pace.memory, execArgv: [] }),
      );
    return this.#threads.slice(0, parts);
  }
}

function ask(thread: Worker, work: Work): Promise<Told> {
  return new Promise((resolve, reject) => {
    const settle = (): void => {
      thread.off('message', onMessage).off('error', onError).off('exit', onExit);
    };
    const onMessage = (told: Told): void => {
      settle();
      resolve(told);
    };
    const onError = (error: unknown): void => {
      settle();
      reject(error);
    };
    const onExit = (): void => onError(new Error('a thread that copies ended'));
    thread.on('message', onMessage).on('error', onError).on('exit', onExit);
    thread.postMessage(work);
  });
}
