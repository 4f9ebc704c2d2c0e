import { DAY, HOUR } from './kinds.ts';
import type { Record } from './record.ts';
import { isAway, lackedBytes, type Shelf } from './shelf.ts';

/**
 * Plain thresholds on backups: no backup for a day (of a shelf, and of the footage), the last run failed, what waits divided by the
 * shelf's own speed is longer than the window, 90 % full, not mounted.
 */
export function tellNaive(
  shelves: readonly Shelf[],
  now: number,
  { naive, windowMs, came }: { naive: Record; windowMs: number; came: number | null },
): void {
  const isLate = ({ lastSuccess }: Shelf) => now - lastSuccess > DAY;
  if (now < 2 * DAY) return;
  for (const shelf of shelves) {
    const subject = `stripe/${shelf.name}`;
    naive.tell('shelf-absent', subject, isAway(shelf, now), now);
    naive.tell('shelf-filling', shelf.name, shelf.freeBytes < 0.1 * shelf.totalBytes, now);
    tellFailures(naive, subject, shelf, now);
    naive.tell('backup-missed', subject, isLate(shelf), now);
  }
  naive.tell('footage-exposed', 'stripe', came !== null && shelves.some(isLate), now);
  const seconds = shelves.reduce((sum, shelf) => sum + lackedBytes(shelf) / shelf.writeBps, 0);
  naive.tell('backup-window', 'stripe', seconds * 1000 > windowMs && now % DAY >= 10 * HOUR, now);
}

const told = new WeakMap<Shelf, number>();

/** Each run that fails is told, as the mail of a timetable's program does. */
function tellFailures(naive: Record, subject: string, shelf: Shelf, now: number): void {
  const isNew = shelf.failures > (told.get(shelf) ?? 0);
  told.set(shelf, shelf.failures);
  if (isNew || shelf.failedSince === null) naive.tell('backup-failed', subject, false, now);
  if (isNew) naive.tell('backup-failed', subject, true, now);
}
