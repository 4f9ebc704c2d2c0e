import type { Instant } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';

const LONGEST_WAIT_MS = 30_000;

/** Aborts at an instant. Looked at again and again: what waits knows nothing of sleep, nor of clocks that are put. */
export function windowUntil(until: Instant | null, clock: Clock): { signal: AbortSignal; close: () => void } {
  const over = new AbortController();
  let cancel = (): void => {};
  const look = (): void => {
    const left = (until ?? Number.POSITIVE_INFINITY) - clock.now();
    if (left <= 0) over.abort();
    else if (until !== null) cancel = clock.after(Math.min(left, LONGEST_WAIT_MS), look);
  };
  look();
  return { signal: over.signal, close: () => cancel() };
}
