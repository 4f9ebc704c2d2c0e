import { arrivalOf, type SettleState } from '../../core/intake/settle-state.ts';
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

/**
 * What became of a unit's line. What is being copied is seen to grow, and seen to be open, in turns: that is no news, and the
 * next look at all arrivals is soon enough for it.
 */
export function changeBetween(before: SettleState, after: SettleState): 'nothing' | 'turn' | 'news' {
  if (before.phase === after.phase && before.reason === after.reason && before.about === after.about) return 'nothing';
  const isCopied = [before, after].every((state) => arrivalOf(state).stage === 'copying');
  return isCopied ? 'turn' : 'news';
}
