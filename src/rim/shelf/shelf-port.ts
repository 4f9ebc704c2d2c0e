import type { ShelfLook, ShelfPort } from '../../core/backup/shelf-port.ts';
import { askProcess } from '../base/ask-process.ts';
import type { ShelfOrder } from './shelf-order.ts';

/** A drive that has to wake up first takes its time. */
const PATIENCE_MS = 30_000;
/** A list of many files is read whole before it is continued. */
const LIST_PATIENCE_MS = 600_000;

const NO_ANSWER = 'it did not answer in time; look whether the drive hangs';

/** Shelves, each order in a process of its own. `entry`: that process. */
export function createShelfPort(entry: string, withinMs = PATIENCE_MS): ShelfPort {
  const ask = (order: ShelfOrder, patience = withinMs) => askProcess(entry, order, patience);
  return {
    async look(path, volume) {
      const told = (await ask({ do: 'look', path, volume })) as ShelfLook | null;
      return told ?? { is: 'absent', why: `${NO_ANSWER}.` };
    },
    async mark(path, marker) {
      const told = (await ask({ do: 'mark', path, marker })) as { trouble: string | null } | null;
      return told === null ? `${path} could not be marked: ${NO_ANSWER}.` : told.trouble;
    },
    async setAside(guard, from, to) {
      const told = await ask({ do: 'set-aside', guard, from, to });
      if (told === null) return { trouble: `${from} could not be set aside: ${NO_ANSWER}.` };
      return told as 'moved' | 'missing' | { trouble: string };
    },
    async list(guard, list) {
      const told = (await ask({ do: 'list', guard, list }, LIST_PATIENCE_MS)) as { trouble: string | null } | null;
      return told === null ? `the list of ${list.top} could not be written: ${NO_ANSWER}.` : told.trouble;
    },
  };
}
