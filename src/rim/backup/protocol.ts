import type {
  CopyItem,
  CopyOutcome,
  CopyProgress,
  CopyTrouble,
  Pace,
  ReadItem,
  ReadOutcome,
  ReadPlace,
  ShelfGuard,
} from '../../core/backup/copy-port.ts';

/** What a process is to do. */
export type CopyOrder =
  /** `token`: eight hexadecimal digits, of this job alone. */
  { do: 'copy'; volume: string; shelf: ShelfGuard; token: string } | { do: 'read'; place: ReadPlace };

/** To a job's process. Batches come in parts; the last one says so. */
export type ToCopy =
  | { type: 'begin'; order: CopyOrder; pace: Pace }
  | { type: 'items'; items: (CopyItem | ReadItem)[]; last: boolean }
  | { type: 'pace'; pace: Pace }
  | { type: 'stop' }
  /** There are no more batches. */
  | { type: 'finish' };

/** From it. `verifiedAt` and `readAt` are 0: the parent has the clock. */
export type FromCopy =
  /** It waits for its order. */
  | { type: 'ready' }
  | { type: 'progress'; progress: CopyProgress }
  | { type: 'outcomes'; outcomes: (CopyOutcome | ReadOutcome)[]; last: boolean }
  | { type: 'broken'; trouble: CopyTrouble };

/** Items in one message: packing so many takes about a millisecond. */
const AT_ONCE = 512;

/** In parts that are small enough for one message; one empty part of nothing. */
export function* partsOf<T>(all: readonly T[]): Generator<{ part: T[]; last: boolean }> {
  for (let from = 0; from === 0 || from < all.length; from += AT_ONCE)
    yield { part: all.slice(from, from + AT_ONCE), last: from + AT_ONCE >= all.length };
}
