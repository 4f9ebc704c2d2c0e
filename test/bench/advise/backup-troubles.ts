import type { JobState } from '../../../src/core/backup/due-state.ts';
import { DAY, HOUR, type Trouble } from './kinds.ts';
import type { Part } from './part.ts';
import { isAway, lackedBytes, type Shelf, type ShelfRun } from './shelf.ts';

/** So long copies fail before somebody has to come: the first retries are over. */
const LASTS_MS = 2 * HOUR;
const TOO_OLD_MS = 2 * DAY;
const FOREVER = Number.POSITIVE_INFINITY;

interface Looked {
  slot: number;
  windowMs: number;
  job: JobState;
  /** Since when the oldest footage lacks a copy. */
  oldest: number | null;
}

/** Notes what goes wrong with backups, whatever anybody was told of it. */
export interface BackupTroubles {
  began(shelves: readonly string[], now: number): void;
  ended(run: ShelfRun, known: { wasFailing: boolean; until: number | null }): void;
  look(now: number, looked: Looked): void;
  all: Part['troubles'];
}

export function createBackupTroubles(shelves: readonly Shelf[]): BackupTroubles {
  const all = {
    'backup-failed': [] as Trouble[],
    'backup-missed': [] as Trouble[],
    'backup-window': [] as Trouble[],
    'footage-exposed': [] as Trouble[],
    'shelf-absent': [] as Trouble[],
    'shelf-filling': [] as Trouble[],
  };
  const open = new Map<string, Trouble>();
  const begin = (kind: keyof typeof all, subject: string, at: number) => {
    const key = `${kind} ${subject}`;
    if (open.has(key)) return;
    const trouble = { subject, at, until: FOREVER };
    open.set(key, trouble);
    all[kind].push(trouble);
  };
  const end = (kind: keyof typeof all, subject: string, at: number) => {
    const key = `${kind} ${subject}`;
    const trouble = open.get(key);
    if (trouble !== undefined) trouble.until = Math.max(at, trouble.at);
    open.delete(key);
  };
  return {
    began(names, now) {
      for (const name of names) end('backup-missed', `stripe/${name}`, now);
    },
    ended({ shelf, to, how, isFull }, { until }) {
      if (how !== 'failed') end('backup-failed', `stripe/${shelf.name}`, to);
      if (isFull) begin('shelf-filling', shelf.name, to);
      else if (how !== 'failed') end('shelf-filling', shelf.name, to);
      if (how === 'stopped' && until !== null && lackedBytes(shelf) > 0) {
        begin('backup-window', 'stripe', until);
        end('backup-window', 'stripe', until);
      }
    },
    look(now, { slot, windowMs, job, oldest }) {
      for (const shelf of shelves) {
        const { name, failedSince } = shelf;
        const subject = `stripe/${name}`;
        if (failedSince !== null && now - failedSince >= LASTS_MS)
          begin('backup-failed', subject, failedSince + LASTS_MS);
        if (failedSince === null) end('backup-failed', subject, now);
        const lacks = lackedBytes(shelf) > 0;
        const isOwed = (job.shelves[name]?.doneTo ?? now) < slot;
        if (now === slot && isAway(shelf, now) && lacks) begin('shelf-absent', subject, slot);
        if (!isAway(shelf, now)) end('shelf-absent', subject, now);
        // One that is under way through the night takes what the night would have taken.
        const isIdle = job.run === null && failedSince === null && !isAway(shelf, now);
        const couldBegin = Math.max(slot + windowMs, Math.min(now, shelf.away?.to ?? 0));
        if (isOwed && lacks && isIdle && now > slot + windowMs) begin('backup-missed', subject, couldBegin);
      }
      if (oldest !== null && now - oldest >= TOO_OLD_MS) begin('footage-exposed', 'stripe', oldest + TOO_OLD_MS);
      else end('footage-exposed', 'stripe', now);
    },
    all,
  };
}
