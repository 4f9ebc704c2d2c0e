import { messageOf } from '../core/fault.ts';
import type { Clock, Log } from '../core/ports.ts';

/** Undoes what a start did, last first; a part that does not end in its time is left behind with a line in the log. */
export interface Lifecycle {
  /** Notes how to undo what was just done. */
  defer(name: string, undo: () => Promise<void> | void, withinMs?: number): void;
  /** Undoes everything once; later calls wait for the same end. Never throws. */
  unwind(): Promise<void>;
}

/** Six parts at most, so that a stop ends within 10 s whatever hangs. */
const usualPatienceMs = 1_500;

export function createLifecycle(clock: Clock, log: Log): Lifecycle {
  const stack: { name: string; undo: () => Promise<void> | void; withinMs: number }[] = [];
  let ending: Promise<void> | null = null;

  async function undoAll(): Promise<void> {
    for (let part = stack.pop(); part !== undefined; part = stack.pop()) {
      try {
        await within(clock, part.withinMs, part.undo);
      } catch (error) {
        log.warn({ part: part.name }, `Stopping: ${part.name} did not end well: ${messageOf(error)}`);
      }
    }
  }

  return {
    defer(name, undo, withinMs = usualPatienceMs) {
      stack.push({ name, undo, withinMs });
    },
    unwind() {
      ending ??= undoAll();
      return ending;
    },
  };
}

function within(clock: Clock, ms: number, run: () => Promise<void> | void): Promise<void> {
  return new Promise((resolve, reject) => {
    const cancel = clock.after(ms, () => reject(new Error(`no end within ${ms / 1000} s`)));
    Promise.resolve().then(run).then(resolve, reject).finally(cancel);
  });
}
