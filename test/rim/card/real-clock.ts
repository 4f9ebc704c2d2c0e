import type { Clock } from '../../../src/core/ports.ts';

/** The time as it is. */
export const realClock: Clock = {
  now: () => Date.now(),
  ticks: () => performance.now(),
  after(ms, run) {
    const timer = setTimeout(run, ms);
    return () => clearTimeout(timer);
  },
};
