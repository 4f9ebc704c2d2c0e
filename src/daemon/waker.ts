import type { Clock } from '../core/ports.ts';

/** A wake-up is never set nearer than this, so that many units due at about the same time share one. */
const coarseMs = 20;

export interface Waker {
  /** Wakes at this instant (monotonic seconds) at the latest; `Infinity` asks for nothing. */
  wake(at: number): void;
  stop(): void;
}

/** One timer for many who want to be woken: only the earliest is set. */
export function createWaker(clock: Clock, run: () => void): Waker {
  let next = Number.POSITIVE_INFINITY;
  let cancel = () => {};
  return {
    wake(at) {
      if (at >= next || !Number.isFinite(at)) return;
      cancel();
      next = at;
      cancel = clock.after(Math.max(coarseMs, at * 1000 - clock.ticks()), () => {
        next = Number.POSITIVE_INFINITY;
        run();
      });
    },
    stop: () => cancel(),
  };
}
