import type { Instant } from '../model.ts';
import { isSameTime } from './card-time.ts';
import type { ExposableTally } from './copy-tally.ts';
import type { InventoryFile } from './inventory.ts';

/**
 * A person said that a card is kept as it is, with its footage on it. What arrived of it then lies in one further place,
 * which nobody read back: that is no verified copy, and nothing is less exposed for it.
 */
export interface KeptCard {
  /** Id of its inventory. */
  inventory: string;
  saidAt: Instant;
  /** The system's name of the person. */
  saidBy: string;
  /** When it was put in again and had lost files; `null`: it holds. */
  endedAt: Instant | null;
  /** So many. */
  lacking: number;
}

/** What is said of a card is asked about after this long: by then cards have mostly been used again. Common practice, no source. */
export const ASKED_AFTER_MS = 7 * 86_400_000;

/** Whether it counts. */
export function isKept(kept: KeptCard | null): kept is KeptCard & { endedAt: null } {
  return kept !== null && kept.endedAt === null;
}

/** Those of the files that are not on the card as they were: it may have been formatted, or recorded over. */
export function filesNotOn(files: readonly InventoryFile[], onCard: readonly InventoryFile[]): InventoryFile[] {
  const now = new Map(onCard.map((file) => [file.path, file]));
  return files.filter(({ path, size, mtimeMs }) => {
    const there = now.get(path);
    return there === undefined || there.size !== size || !isSameTime(there.mtimeMs, mtimeMs);
  });
}

/** What of a volume's exposed footage lies on kept cards as well. */
export interface OnCards {
  bytes: number;
  cards: { name: string; saidAt: Instant; saidBy: string }[];
}

/** Bytes of a tally with fewer verified copies than wanted, on one volume. */
export function exposedOn(exposable: readonly ExposableTally[], volume: string, wantedCopies: number): number {
  return exposable.reduce((sum, one) => sum + (one.volume === volume && one.copies < wantedCopies ? one.bytes : 0), 0);
}
