import { messageOf } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';

/** Tells once that the store refuses (a full state disk, say), and once that it works again. */
export interface StoreTrouble {
  refused(error: unknown): void;
  worked(): void;
}

/** @param recovered called when the store works again: what was passed over meanwhile must be looked at */
export function createStoreTrouble(log: Log, recovered: () => void): StoreTrouble {
  let refuses = false;
  return {
    refused(error) {
      const message = messageOf(error);
      if (!refuses) log.error({ error: message }, `${message} It is tried again; nothing on your volumes is touched.`);
      refuses = true;
    },
    worked() {
      if (!refuses) return;
      refuses = false;
      log.info({}, 'The state can be written again; every folder is compared again.');
      recovered();
    },
  };
}
