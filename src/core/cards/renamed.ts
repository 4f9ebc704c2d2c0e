import { baseName, dirName, extension } from '../intake/path-text.ts';
import { FAT_STEP_MS } from './card-time.ts';
import { type Copy, candidateKey, fold, isFree, order, type Side, type Slot, take } from './claim-board.ts';

interface Pair {
  side: Side;
  slot: Slot;
  copy: Copy;
  apart: number;
}

/**
 * Takes copies under other names for files that have none under their own: of the same size, extension and time. Where
 * several files and copies could be one another's, only if there are enough copies for all of them: otherwise it could not
 * be said which are missing.
 */
export function takeRenamed(sides: readonly Side[]): void {
  const pairs = sides.flatMap((side) => pairsOf(side));
  for (const group of linkedGroups(pairs)) {
    const files = new Set(group.map(fileNode));
    const copies = new Set(group.map(copyNode));
    if (copies.size >= files.size) takeNearest(group);
  }
}

function pairsOf(side: Side): Pair[] {
  return side.slots.flatMap((slot) => {
    const { path, size, mtimeMs } = slot.file;
    if (slot.taken !== null || mtimeMs === null || size === null || size === 0) return [];
    return slot.copies
      .map((copy) => ({ side, slot, copy, apart: Math.abs(copy.candidate.mtimeMs - mtimeMs) }))
      .filter(
        ({ copy, apart }) =>
          apart <= FAT_STEP_MS &&
          baseName(copy.folded) !== fold(baseName(path)) &&
          extension(copy.folded) === extension(path) &&
          isFree(copy, side),
      );
  });
}

/** Pairs that share a file or a copy, directly or through others. */
function linkedGroups(pairs: readonly Pair[]): Pair[][] {
  const parent = new Map<string, string>();
  const rootOf = (node: string): string => {
    let at = node;
    for (let up = parent.get(at); up !== undefined && up !== at; up = parent.get(at)) {
      parent.set(at, parent.get(up) ?? up);
      at = up;
    }
    return at;
  };
  for (const pair of pairs) parent.set(rootOf(fileNode(pair)), rootOf(copyNode(pair)));
  return [...Map.groupBy(pairs, (pair) => rootOf(fileNode(pair))).values()];
}

function takeNearest(group: readonly Pair[]): void {
  for (const { side, slot, copy } of group.toSorted(byNearness)) {
    if (slot.taken !== null || !isFree(copy, side)) continue;
    take(copy, side);
    slot.taken = { copy, renamed: true, base: dirName(copy.candidate.path), prefix: dirName(slot.file.path) };
  }
}

/** Two inventories of one card mean the same file. */
function fileNode({ side, slot }: Pair): string {
  return `file\0${side.card}\0${slot.file.path}\0${slot.file.size}`;
}

function copyNode({ copy }: Pair): string {
  return `copy\0${candidateKey(copy.candidate)}`;
}

function byNearness(one: Pair, other: Pair): number {
  return (
    one.apart - other.apart ||
    order(one.slot.file.path, other.slot.file.path) ||
    order(one.side.inventory.id, other.side.inventory.id) ||
    order(candidateKey(one.copy.candidate), candidateKey(other.copy.candidate))
  );
}
