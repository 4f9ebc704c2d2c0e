/** How late the timers of this process are, in ms. */
export interface Lateness {
  p99: number;
  max: number;
  samples: number;
}

const EVERY_MS = 2;

/** Begins to measure; what it returns ends that. */
export function measureLateness(): () => Lateness {
  const late: number[] = [];
  let due = performance.now() + EVERY_MS;
  let timer = setTimeout(look, EVERY_MS);

  function look(): void {
    const now = performance.now();
    late.push(now - due);
    due = now + EVERY_MS;
    timer = setTimeout(look, EVERY_MS);
  }

  return () => {
    clearTimeout(timer);
    const sorted = late.toSorted((a, b) => a - b);
    const at = (share: number) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? Number.NaN;
    return { p99: at(0.99), max: at(1), samples: sorted.length };
  };
}
