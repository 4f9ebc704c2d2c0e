import type { KnownListOutcome, ListPort } from '../../core/cards/known-list.ts';
import { askProcess } from '../base/ask-process.ts';

/** A list of many files takes seconds; a drive may have to wake up first. */
const PATIENCE_MS = 120_000;

/** What `entry` is asked. */
export interface ListOrder {
  root: string;
  place: string;
  base: string;
}

/** Lists on volumes, each read in a process of its own, `entry`. */
export function createListPort(entry: string, withinMs = PATIENCE_MS): ListPort {
  return {
    async read(root, { place, base }) {
      const told = (await askProcess(
        entry,
        { root, place, base } satisfies ListOrder,
        withinMs,
      )) as KnownListOutcome | null;
      const detail = 'it could not be read in time; look whether the drive hangs';
      return told ?? { ok: false, reason: 'unreadable', detail };
    },
  };
}
