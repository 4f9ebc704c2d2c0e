import type { Instant } from '../model.ts';

/** Files on volumes, and their verified copies. */
export interface CopyTally {
  files: number;
  /** How many of the files have so many verified copies on different drives; the number of copies is the place. */
  byCopies: readonly number[];
  shelves: readonly ShelfTally[];
  /** When, of all these copies, the one that was not read for longest was read last; `null`: there are none. */
  oldestReadAt: Instant | null;
  /** Of these files what must have copies, by volume and the number that it has. */
  exposable: readonly ExposableTally[];
}

/** So many of the files have a verified copy on this shelf. */
export interface ShelfTally {
  /** From its marker. */
  id: string;
  name: string;
  files: number;
}

export interface ExposableTally {
  volume: string;
  copies: number;
  bytes: number;
}

/** A verified copy of one file. */
export interface VerifiedCopy {
  shelf: string;
  name: string;
  /** What two shelves share that are lost together. */
  drive: string;
  readAt: Instant;
}

export const NO_FILES: CopyTally = { files: 0, byCopies: [], shelves: [], oldestReadAt: null, exposable: [] };

/** The tally of one file. `exposableBytes`: 0 where it needs no copies. */
export function tallyOf(copies: readonly VerifiedCopy[], volume: string, exposableBytes: number): CopyTally {
  const shelves = new Map<string, VerifiedCopy>();
  for (const copy of copies) {
    // On one shelf the copy that was read last stands for all.
    if ((shelves.get(copy.shelf)?.readAt ?? Number.NEGATIVE_INFINITY) < copy.readAt) shelves.set(copy.shelf, copy);
  }
  const each = [...shelves.values()];
  // As coverage counts them: two shelves on one drive are one copy.
  const count = Math.min(each.length, new Set(each.map(({ drive }) => drive)).size);
  const byCopies = Array.from({ length: count + 1 }, (_, copies) => (copies === count ? 1 : 0));
  return {
    files: 1,
    byCopies,
    shelves: each.map(({ shelf, name }) => ({ id: shelf, name, files: 1 })),
    oldestReadAt: each.length === 0 ? null : Math.min(...each.map(({ readAt }) => readAt)),
    exposable: exposableBytes === 0 ? [] : [{ volume, copies: count, bytes: exposableBytes }],
  };
}

/** Several tallies of different files as one; shelves by name. */
export function sumTallies(tallies: Iterable<CopyTally>): CopyTally {
  let files = 0;
  let oldestReadAt: Instant | null = null;
  const byCopies: number[] = [];
  const shelves = new Map<string, ShelfTally>();
  const exposable = new Map<string, ExposableTally>();
  for (const one of tallies) {
    files += one.files;
    for (const [copies, count] of one.byCopies.entries()) byCopies[copies] = (byCopies[copies] ?? 0) + count;
    for (const shelf of one.shelves) {
      shelves.set(shelf.id, { ...shelf, files: shelf.files + (shelves.get(shelf.id)?.files ?? 0) });
    }
    for (const some of one.exposable) {
      const key = `${some.copies} ${some.volume}`;
      exposable.set(key, { ...some, bytes: some.bytes + (exposable.get(key)?.bytes ?? 0) });
    }
    if (one.oldestReadAt !== null) oldestReadAt = Math.min(oldestReadAt ?? one.oldestReadAt, one.oldestReadAt);
  }
  const named = [...shelves.values()].sort((one, other) =>
    `${one.name}\0${one.id}` < `${other.name}\0${other.id}` ? -1 : 1,
  );
  return { files, byCopies, shelves: named, oldestReadAt, exposable: [...exposable.values()] };
}

/** The smallest number of verified copies that any of the files has; `null`: there are no files. */
export function leastCopies({ files, byCopies }: CopyTally): number | null {
  return files === 0 ? null : byCopies.findIndex((count) => count > 0);
}
