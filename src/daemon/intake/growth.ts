import type { FileRecord } from '../../core/model.ts';
import type { Entry } from './unit-entry.ts';

/** Growth is written down of so many units a second, of all together. */
const NOTES_PER_SECOND = 2;

/**
 * Whether nothing has to be done about a file that is open and has grown but to take note of it here: its unit is known to be
 * open, and what the catalogue has of it may be that old where so many are on their way (`moving`). `now`: monotonic seconds.
 */
export function isMereGrowth(
  entry: Entry | undefined,
  record: FileRecord,
  { now, moving }: { now: number; moving: number },
): entry is Entry {
  if (entry?.records.has(record.path) !== true || entry.state.openLooks === 0) return false;
  if (now - entry.notedAt >= Math.max(1, moving / NOTES_PER_SECOND)) {
    entry.notedAt = now;
    return false;
  }
  entry.records.set(record.path, record);
  return true;
}
