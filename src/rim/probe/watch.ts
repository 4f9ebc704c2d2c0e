import type { Worker } from 'node:worker_threads';
import { messageOf } from '../../core/fault.ts';
import type { FromWorker } from './protocol.ts';

/** How a wait for a worker ended. */
export type Ending =
  | { type: 'message'; message: FromWorker }
  /** The thread is no more. */
  | { type: 'gone'; detail: string }
  /** It was given up; it still runs. */
  | { type: 'late'; detail: string }
  /** It was given up while it waited for the file system. */
  | { type: 'stuck'; detail: string };

/** Times in ms. */
export interface Patience {
  /** Longest time without a sign of life (a read, or the end of the job). */
  stallMs: number;
  /** Longest time in all. */
  totalMs: number;
}

export interface Watch {
  /** The worker's next word, its end, or that it was given up. One wait at a time. */
  next(patience: Patience): Promise<Ending>;
  isGone(): boolean;
}

const LOOKS_PER_LIMIT = 10;

/**
 * Watches one worker. Signs of life are counted in shared memory, and only time in which somebody looked counts, so that
 * neither a busy event loop on this side nor a process that was stopped for a while is taken for a dead worker.
 * @param now monotonic, ms
 */
export function watchOver(worker: Worker, signs: Int32Array, now: () => number): Watch {
  let settle: (ending: Ending) => void = () => undefined;
  let gone: Ending | null = null;
  const leave = (detail: string) => {
    gone ??= { type: 'gone', detail };
    settle(gone);
  };
  worker.on('message', (message: FromWorker) => {
    // Told on the way; the job goes on.
    if (message.type !== 'structure') settle({ type: 'message', message });
  });
  worker.on('messageerror', (error) => leave(`its answer was lost: ${messageOf(error)}`));
  worker.on('error', (error) => leave(`the media reader failed: ${messageOf(error)}`));
  worker.on('exit', (code) => leave(`the media reader ended by itself (${code})`));

  function next(patience: Patience): Promise<Ending> {
    if (gone !== null) return Promise.resolve(gone);
    return new Promise((resolve) => {
      const every = Math.max(1, Math.min(patience.stallMs, patience.totalMs) / LOOKS_PER_LIMIT);
      const look = lookout(signs, patience, { now, longestStep: 2 * every });
      const timer = setInterval(() => {
        const late = look();
        if (late !== null) settle(late);
      }, every);
      settle = (ending) => {
        clearInterval(timer);
        settle = () => undefined;
        resolve(ending);
      };
    });
  }
  return { next, isGone: () => gone !== null };
}

/** Each call is one look at the counter. A step between two looks counts for no more than `longestStep` ms. */
function lookout(
  signs: Int32Array,
  { stallMs, totalMs }: Patience,
  { now, longestStep }: { now: () => number; longestStep: number },
): () => Ending | null {
  let seen = Atomics.load(signs, 0);
  let lookedAt = now();
  let total = 0;
  let still = 0;
  return () => {
    const step = Math.min(now() - lookedAt, longestStep);
    const signsNow = Atomics.load(signs, 0);
    lookedAt = now();
    total += step;
    still = signsNow === seen ? still + step : 0;
    seen = signsNow;
    const isReading = (signsNow & 1) === 1;
    if (still >= stallMs && isReading) {
      return { type: 'stuck', detail: `the drive did not answer for ${seconds(stallMs)}` };
    }
    if (still >= stallMs) return { type: 'late', detail: `the media reader hung on it for ${seconds(stallMs)}` };
    return total >= totalMs ? { type: 'late', detail: `it was not read through in ${seconds(totalMs)}` } : null;
  };
}

/** In whole seconds that have passed; less than one in milliseconds. */
function seconds(ms: number): string {
  return ms < 1000 ? `${Math.floor(ms)} ms` : `${Math.floor(ms / 1000)} s`;
}
