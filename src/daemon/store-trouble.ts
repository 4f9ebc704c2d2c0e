import { messageOf } from '../core/fault.ts';
import type { Clock, Log } from '../core/ports.ts';

/** Whether the store refuses (a full state disk, say): told once in the log, and once when it works again. */
export interface StoreTrouble {
  refused(error: unknown): void;
  worked(): void;
  /** Why it refuses now, and since when; `null` while it works. */
  current(): { message: string; since: number } | null;
  /** Called when it works again: what was passed over meanwhile must be looked at. */
  onRecovered(listener: () => void): void;
}

export function createStoreTrouble(clock: Clock, log: Log): StoreTrouble {
  const listeners: (() => void)[] = [];
  let trouble: { message: string; since: number } | null = null;
  return {
    refused(error) {
      const message = messageOf(error);
      if (trouble === null) {
        log.error({ error: message }, `${message} It is tried again; nothing on your volumes is touched.`);
        trouble = { message, since: clock.now() };
      }
    },
    worked() {
      if (trouble === null) return;
      trouble = null;
      log.info({}, 'The state can be written again; every folder is compared again.');
      for (const listener of listeners) listener();
    },
    current: () => trouble,
    onRecovered: (listener) => void listeners.push(listener),
  };
}
