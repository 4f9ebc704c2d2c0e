import type { Clock } from '../../src/core/ports.ts';

export interface FakeClock extends Clock {
  /** Lets time pass: every timer due by then runs in its order, and what it set off is waited for before the next. */
  advance(ms: number): Promise<void>;
  /** The wall clock jumps; monotonic time does not. */
  jump(ms: number): void;
}

/** A clock that stands still until it is told to go on. */
export function fakeClock(start: number): FakeClock {
  let wall = start;
  let ticks = 0;
  let nextId = 1;
  const timers = new Map<number, { at: number; run: () => void }>();

  function due(until: number): { id: number; at: number; run: () => void } | null {
    let first: { id: number; at: number; run: () => void } | null = null;
    for (const [id, timer] of timers) {
      if (timer.at <= until && (first === null || timer.at < first.at)) first = { id, ...timer };
    }
    return first;
  }

  return {
    now: () => wall,
    ticks: () => ticks,
    after(ms, run) {
      const id = nextId++;
      timers.set(id, { at: ticks + ms, run });
      return () => timers.delete(id);
    },
    async advance(ms) {
      const end = ticks + ms;
      await settled();
      for (let timer = due(end); timer !== null; timer = due(end)) {
        timers.delete(timer.id);
        wall += timer.at - ticks;
        ticks = timer.at;
        timer.run();
        await settled();
      }
      wall += end - ticks;
      ticks = end;
    },
    jump(ms) {
      wall += ms;
    },
  };
}

/** Fakes answer in a few turns of the event loop; nothing that waits on them needs more. */
async function settled(): Promise<void> {
  for (let turn = 0; turn < 20; turn++) await new Promise((resolve) => setImmediate(resolve));
}
