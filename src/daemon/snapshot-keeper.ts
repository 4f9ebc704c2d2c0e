import { messageOf } from '../core/fault.ts';
import type { Clock, Log } from '../core/ports.ts';
import type { Snapshot } from '../core/present/snapshot.ts';

/** The snapshot on disk is at most this old: it is for people who look while no daemon runs. */
const everyMs = 10_000;

/** One in which nothing but its time is new is written this seldom. */
const sameMs = 600_000;

export interface SnapshotKeeper {
  /** There is a newer one, which is asked for when it is due. */
  note: (newest: () => Snapshot) => void;
  /** Writes the newest one now. */
  flush: () => void;
}

/** Keeps the newest snapshot on disk, written now and then. A disk that is full costs the copy, nothing else. */
export function createSnapshotKeeper(clock: Clock, log: Log, write: (json: string) => void): SnapshotKeeper {
  let newest: (() => Snapshot) | null = null;
  let lookedAt = Number.NEGATIVE_INFINITY;
  let writtenAt = Number.NEGATIVE_INFINITY;
  let written = '';
  let failing = false;

  function keep(snapshot: Snapshot, content: string): void {
    try {
      write(JSON.stringify(snapshot));
      [written, writtenAt] = [content, clock.ticks()];
      failing = false;
    } catch (error) {
      if (!failing) log.warn({ error: messageOf(error) }, `The last snapshot could not be stored: ${messageOf(error)}`);
      failing = true;
    }
  }

  return {
    note(current) {
      newest = current;
      const now = clock.ticks();
      if (now - lookedAt < everyMs) return;
      lookedAt = now;
      const snapshot = current();
      const content = withoutTime(snapshot);
      if (content !== written || now - writtenAt >= sameMs) keep(snapshot, content);
    },
    flush() {
      if (newest === null) return;
      const snapshot = newest();
      keep(snapshot, withoutTime(snapshot));
    },
  };
}

function withoutTime(snapshot: Snapshot): string {
  return JSON.stringify({ ...snapshot, at: null });
}
