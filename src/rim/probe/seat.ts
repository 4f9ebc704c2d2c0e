import { type Answer, type Hand, hireHand, type ProbeLimits } from './hand.ts';
import type { Job } from './protocol.ts';

/** The place of one worker: it is hired when there is a job, replaced when it is spent, let go when there is none. */
export interface Seat {
  /** Runs one job; never rejects. One at a time. */
  run(job: Omit<Job, 'id'>): Promise<Answer>;
  /**
   * When the next job may come. A worker that was ended is waited for: two would take twice the memory, and one that
   * waits for a drive would be followed by the next that does.
   */
  tidied(): Promise<void>;
  /** Ends the worker for good, whatever it is doing; resolves when it is gone. */
  clear(): Promise<void>;
}

/** @param now monotonic, ms */
export function createSeat(limits: ProbeLimits, now: () => number): Seat {
  let hand: Hand | null = null;
  let leaving: Promise<void> = Promise.resolve();
  let rest: NodeJS.Timeout | undefined;
  let cleared = false;

  function dismiss(): Promise<void> {
    const ended = hand?.end() ?? Promise.resolve();
    hand = null;
    leaving = Promise.all([leaving, ended]).then(() => undefined);
    return leaving;
  }

  return {
    async run(job) {
      clearTimeout(rest);
      if (hand?.spent()) void dismiss();
      await leaving;
      if (cleared) return { verdict: { type: 'not-run', detail: 'it was told to stop' }, structure: null };
      hand ??= hireHand(limits, now);
      return await hand.run(job);
    },
    async tidied() {
      if (hand?.spent()) void dismiss();
      await leaving;
      if (hand !== null) rest = setTimeout(() => void dismiss(), limits.restMs).unref();
    },
    clear() {
      cleared = true;
      clearTimeout(rest);
      return dismiss();
    },
  };
}
