import { Worker } from 'node:worker_threads';
import { messageOf } from '../../core/fault.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';
import type { FromWorker, Job, WorkerSetup } from './protocol.ts';

/** What a worker may take before it is ended or replaced. Times in ms, sizes in bytes. */
export interface ProbeLimits {
  /** Longest time without a sign of life (a read, or the end of the job). */
  stallMs: number;
  /** Longest time for one file. */
  totalMs: number;
  /** Longest time for a new worker to be ready. */
  startMs: number;
  /** Wasm memory after which a worker is replaced: it never gives any back. */
  recycleHeap: number;
  /** Jobs after which a worker is replaced. */
  recycleJobs: number;
  /** Wasm memory that no file may exceed. */
  heapLimit: number;
}

/** Healthy files take 33 MB of wasm memory and some hundredths of a second; a wrong byte can take minutes and gigabytes. */
export const DEFAULT_LIMITS: ProbeLimits = {
  stallMs: 5_000,
  totalMs: 20_000,
  startMs: 15_000,
  recycleHeap: 64 * 1_048_576,
  recycleJobs: 2_000,
  heapLimit: 256 * 1_048_576,
};

export type Verdict =
  | { type: 'answered'; outcome: ProbeOutcome }
  /** The file broke the worker or had it ended: it is not to be tried again as it is. */
  | { type: 'killed'; detail: string }
  /** Not the file's fault: the worker never started, or was told to stop. */
  | { type: 'not-run'; detail: string };

/** One worker thread, and the watch over it. */
export interface Hand {
  /** Runs one job; never rejects. Not to be called again before it has resolved. */
  run(job: Job): Promise<Verdict>;
  /** Whether it must be replaced before the next job. */
  spent(): boolean;
  /** Ends the thread, whatever it is doing; resolves when it is gone. */
  end(): Promise<void>;
}

type Ending =
  | { type: 'message'; message: FromWorker }
  | { type: 'gone'; detail: string }
  | { type: 'late'; detail: string };

/** @param now monotonic, ms */
export function hireHand(limits: ProbeLimits, now: () => number): Hand {
  const signs = new SharedArrayBuffer(4);
  const workerData: WorkerSetup = { signs, heapLimit: limits.heapLimit };
  const worker = new Worker(new URL('./worker.ts', import.meta.url), {
    name: 'probe',
    workerData,
    resourceLimits: { maxOldGenerationSizeMb: 256 },
  });
  const watch = createWatch(worker, new Int32Array(signs), now);
  const started = watch.next({ stallMs: limits.startMs, totalMs: limits.startMs }).then((ending) => {
    worker.unref();
    return ending;
  });
  let jobs = 0;
  let heap = 0;
  let ruined = false;
  let stopped = false;

  async function run(job: Job): Promise<Verdict> {
    const start = await started;
    if (start.type !== 'message') {
      ruined = true;
      return { type: 'not-run', detail: `the media reader did not start: ${start.detail}` };
    }
    jobs += 1;
    worker.ref();
    const ending = watch.next(limits);
    worker.postMessage(job);
    const verdict = judge(await ending);
    worker.unref();
    return verdict;
  }

  function judge(ending: Ending): Verdict {
    if (ending.type === 'message' && ending.message.type === 'done') {
      heap = ending.message.heapBytes;
      ruined = ending.message.broken;
      const { outcome } = ending.message;
      return ruined && !outcome.ok ? { type: 'killed', detail: outcome.detail } : { type: 'answered', outcome };
    }
    ruined = true;
    const detail = ending.type === 'message' ? 'the media reader lost count of its jobs' : ending.detail;
    return stopped ? { type: 'not-run', detail: 'it was told to stop' } : { type: 'killed', detail };
  }

  return {
    run,
    spent: () => ruined || watch.isGone() || jobs >= limits.recycleJobs || heap > limits.recycleHeap,
    async end() {
      stopped = true;
      await worker.terminate();
    },
  };
}

/**
 * Waits for the worker's next word, its end, or the time to give up on it. Signs of life are counted in shared memory, so
 * that a busy event loop on this side is never taken for a dead worker on the other.
 */
function createWatch(worker: Worker, signs: Int32Array, now: () => number) {
  let settle: (ending: Ending) => void = () => undefined;
  let gone: Ending | null = null;
  const leave = (detail: string) => {
    gone ??= { type: 'gone', detail };
    settle(gone);
  };
  worker.on('message', (message: FromWorker) => settle({ type: 'message', message }));
  worker.on('messageerror', (error) => leave(`its answer was lost: ${messageOf(error)}`));
  worker.on('error', (error) => leave(`the media reader failed: ${messageOf(error)}`));
  worker.on('exit', (code) => leave(`the media reader ended by itself (${code})`));

  function next({ stallMs, totalMs }: Pick<ProbeLimits, 'stallMs' | 'totalMs'>): Promise<Ending> {
    if (gone !== null) return Promise.resolve(gone);
    return new Promise((resolve) => {
      const began = now();
      let seen = Atomics.load(signs, 0);
      let seenAt = began;
      const look = () => {
        const signsNow = Atomics.load(signs, 0);
        if (signsNow !== seen) [seen, seenAt] = [signsNow, now()];
        if (now() - began >= totalMs)
          settle({ type: 'late', detail: `it was not read through in ${seconds(totalMs)}` });
        else if (now() - seenAt >= stallMs)
          settle({ type: 'late', detail: `the media reader hung on it for ${seconds(stallMs)}` });
      };
      const timer = setInterval(look, Math.max(1, Math.min(stallMs, totalMs) / 10));
      settle = (ending) => {
        clearInterval(timer);
        settle = () => undefined;
        resolve(ending);
      };
    });
  }
  return { next, isGone: () => gone !== null };
}

function seconds(ms: number): string {
  return `${ms / 1000} s`;
}
