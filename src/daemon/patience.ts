import type { Clock } from '../core/ports.ts';

/** Waits until the work has ended, well or not, but no longer than `ms`. False: it goes on. Never rejects. */
export function within(clock: Clock, ms: number, work: Promise<unknown>): Promise<boolean> {
  return new Promise((resolve) => {
    const cancel = clock.after(ms, () => resolve(false));
    const end = () => {
      cancel();
      resolve(true);
    };
    work.then(end, end);
  });
}
