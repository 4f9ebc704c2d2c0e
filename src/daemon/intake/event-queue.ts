import type { Clock } from '../../core/ports.ts';
import type { RootEvent } from '../../core/root-port.ts';
import { type LineMark, NO_MARK } from '../loop-marks.ts';

export interface EventQueueDeps {
  take: (event: RootEvent) => Promise<void>;
  clock: Pick<Clock, 'after'>;
  /** A job was refused; it is tried again. */
  refused: (error: unknown) => void;
  /** Events were dropped, and those that waited are taken: every folder must be read again. */
  readAll: () => void;
  mark?: LineMark;
}

/** What happens on a volume, one after the other. What is refused is tried again until it is taken. */
export interface EventQueue {
  /** Resolves when the event was taken. Of files that came, changed or went the first so many wait, the others are dropped. */
  receive(event: RootEvent): void | Promise<void>;
  run(job: () => Promise<void>): Promise<void>;
  stop(): void;
}

/** A store that refuses is asked again after this long. */
const retryMs = 5_000;
/** So many events of files that came, changed or went wait at the most: nobody who tells them waits for us. */
const waitingAtMost = 500;

export function createEventQueue({ take, clock, refused, readAll, mark = NO_MARK }: EventQueueDeps): EventQueue {
  let work: Promise<void> = Promise.resolve();
  let cancelRetry = () => {};
  let stopped = false;
  let waiting = 0;
  let dropped = false;

  function run(job: () => Promise<void>): Promise<void> {
    mark.begins();
    work = work.then(() => untilTaken(job)).finally(mark.ends);
    return work;
  }

  async function untilTaken(job: () => Promise<void>): Promise<void> {
    while (!stopped) {
      try {
        return await job();
      } catch (error) {
        refused(error);
        await new Promise<void>((resolve) => {
          cancelRetry = clock.after(retryMs, resolve);
        });
      }
    }
  }

  return {
    receive(event) {
      if (event.type !== 'files' && event.type !== 'gone') return run(() => take(event));
      if (waiting >= waitingAtMost) {
        dropped = true;
        return;
      }
      waiting += 1;
      return run(() => take(event)).finally(() => {
        waiting -= 1;
        if (!dropped || waiting > 0 || stopped) return;
        dropped = false;
        readAll();
      });
    },
    run,
    stop() {
      stopped = true;
      cancelRetry();
    },
  };
}
