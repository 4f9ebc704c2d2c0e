import { Worker } from 'node:worker_threads';
import type { Structure } from '../../core/intake/container/structure.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';
import type { FromWorker, Job, WorkerSetup } from './protocol.ts';
import { type Ending, watchOver } from './watch.ts';

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
  /** Age at which a worker is replaced. */
  recycleMs: number;
  /** Time without a job after which a worker is let go: at rest its memory is not needed. */
  restMs: number;
  /** Wasm memory that no file may exceed by more than its own index needs. */
  heapLimit: number;
}

const MIB = 1_048_576;

/**
 * Healthy files take 33 MB of wasm memory and some hundredths of a second; a wrong byte can take minutes and gigabytes.
 * An index of an hour takes more, and may (own-need.ts).
 */
export const DEFAULT_LIMITS: ProbeLimits = {
  stallMs: 5_000,
  totalMs: 20_000,
  startMs: 15_000,
  recycleHeap: 64 * MIB,
  recycleJobs: 2_000,
  recycleMs: 3_600_000,
  restMs: 60_000,
  heapLimit: 40 * MIB,
};

/** The answer of a library that runs astray can be long, and there is a copy of it on each side. */
const JAVASCRIPT_HEAP = { maxOldGenerationSizeMb: 64, maxYoungGenerationSizeMb: 4 };

export type Verdict =
  | { type: 'answered'; outcome: ProbeOutcome }
  /** The file broke the worker or had it ended: it is not to be tried again as it is. */
  | { type: 'killed'; detail: string }
  /** Nothing is known of the file: the drive did not answer. */
  | { type: 'stuck'; detail: string }
  /** Not the file's fault: the worker never started, or was told to stop. */
  | { type: 'not-run'; detail: string };

/** `structure`: what the container told, if anything, before the verdict came. */
export interface Answer {
  verdict: Verdict;
  structure: Structure | null;
}

/** One worker thread, and the watch over it. */
export interface Hand {
  /** Runs one job; never rejects. Not to be called again before it has resolved. */
  run(job: Omit<Job, 'id'>): Promise<Answer>;
  /** Whether it must be replaced before the next job. */
  spent(): boolean;
  /** Ends the thread, whatever it is doing; resolves when it is gone. */
  end(): Promise<void>;
}

/** @param now monotonic, ms */
export function hireHand(limits: ProbeLimits, now: () => number): Hand {
  const signs = new SharedArrayBuffer(4);
  const workerData: WorkerSetup = { signs, heapLimit: limits.heapLimit };
  const worker = new Worker(new URL('./worker.ts', import.meta.url), {
    name: 'probe',
    workerData,
    resourceLimits: JAVASCRIPT_HEAP,
  });
  const hiredAt = now();
  const watch = watchOver(worker, new Int32Array(signs), now);
  const started = watch.next({ stallMs: limits.startMs, totalMs: limits.startMs }).then((ending) => {
    worker.unref();
    return ending;
  });
  let jobs = 0;
  let structure: Structure | null = null;
  let heap = 0;
  let ruined = false;
  let stopped = false;

  worker.on('message', (message: FromWorker) => {
    if (message.type === 'structure' && message.id === jobs) structure = message.structure;
  });

  async function run({ path, stat }: Omit<Job, 'id'>): Promise<Answer> {
    const start = await started;
    if (start.type !== 'message') {
      ruined = true;
      const detail = `the media reader did not start: ${start.detail}`;
      return { verdict: { type: 'not-run', detail }, structure: null };
    }
    jobs += 1;
    structure = null;
    worker.ref();
    const ending = watch.next(limits);
    const job: Job = { id: jobs, path, stat };
    worker.postMessage(job);
    const verdict = judge(await ending);
    worker.unref();
    return { verdict, structure };
  }

  function judge(ending: Ending): Verdict {
    if (ending.type === 'message' && ending.message.type === 'done' && ending.message.id === jobs) {
      heap = ending.message.heapBytes;
      ruined = ending.message.broken;
      const { outcome } = ending.message;
      return ruined && !outcome.ok ? { type: 'killed', detail: outcome.detail } : { type: 'answered', outcome };
    }
    ruined = true;
    if (stopped) return { type: 'not-run', detail: 'it was told to stop' };
    if (ending.type === 'message') return { type: 'not-run', detail: 'the media reader lost count of its jobs' };
    return { type: ending.type === 'stuck' ? 'stuck' : 'killed', detail: ending.detail };
  }

  return {
    run,
    spent: () =>
      ruined ||
      watch.isGone() ||
      jobs >= limits.recycleJobs ||
      heap > limits.recycleHeap ||
      now() - hiredAt >= limits.recycleMs,
    async end() {
      stopped = true;
      await worker.terminate();
    },
  };
}
