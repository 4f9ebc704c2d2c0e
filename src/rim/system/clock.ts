import type { Clock } from '../../core/ports.ts';

/** The machine's own clock. `ticks` does not count suspend on Linux (CLOCK_MONOTONIC). */
export const systemClock: Clock = {
  now: () => Date.now(),
  ticks: () => performance.now(),
  after(ms, run) {
    const timer = setTimeout(run, ms);
    return () => clearTimeout(timer);
  },
};
