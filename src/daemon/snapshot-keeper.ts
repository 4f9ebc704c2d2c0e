import { messageOf } from '../core/fault.ts';
import type { Clock, Log } from '../core/ports.ts';
import type { Snapshot } from '../core/present/snapshot.ts';

/** The snapshot on disk is at most this old: it is for people who look while no daemon runs. */
const everyMs = 10_000;

export interface SnapshotKeeper {
  note: (snapshot: Snapshot) => void;
  /** Writes the newest one now. */
  flush: () => void;
}

/** Keeps the newest snapshot on disk, written now and then. A disk that is full costs the copy, nothing else. */
export function createSnapshotKeeper(clock: Clock, log: Log, write: (json: string) => void): SnapshotKeeper {
  let latest: Snapshot | null = null;
  let writtenAt = Number.NEGATIVE_INFINITY;
  let failing = false;

  function flush(): void {
    if (latest === null) return;
    writtenAt = clock.ticks();
    try {
      write(JSON.stringify(latest));
      failing = false;
    } catch (error) {
      if (!failing) log.warn({ error: messageOf(error) }, `The last snapshot could not be stored: ${messageOf(error)}`);
      failing = true;
    }
  }

  return {
    note(snapshot) {
      latest = snapshot;
      if (clock.ticks() - writtenAt >= everyMs) flush();
    },
    flush,
  };
}
