import type { Clock } from './ports.ts';

/**
 * Milliseconds from `ticks` to the next multiple of a period, more than one. What waits so wakes together with all that
 * waits for the same period: waking a resting process costs more than what most timers then do.
 */
export function toNextBeat(ticks: number, periodMs: number): number {
  const rest = periodMs - (ticks % periodMs);
  return rest <= 1 ? rest + periodMs : rest;
}

/** Calls `run` at the next multiple of a period; the returned function cancels. */
export function onNextBeat(clock: Clock, periodMs: number, run: () => void): () => void {
  return clock.after(toNextBeat(clock.ticks(), periodMs), run);
}
