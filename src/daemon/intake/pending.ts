/** What is told of all that is on its way: not ready yet, halted ones included. */
export interface ArrivalTotals {
  pending: number;
  bytes: number;
}

/** What counts of an item: whose it is, how large, and whether it has halted (stalled or refused). */
export interface Weight {
  project: string | null;
  bytes: number;
  halted: boolean;
}

/** Items on their way, summed up as they change, so that nobody has to walk through all of them. */
export interface Pending<Item> {
  /** Notes an item as it is now. */
  note(item: Item, weight: Weight): void;
  drop(item: Item): void;
  /** How many have not halted. */
  moving(): number;
  totals(): ArrivalTotals;
  /**
   * All that have halted, which each need a person, and of the others the first `most`; at least one of each project, since
   * a project into which something arrives must be seen to be so.
   */
  pick(most: number): Set<Item>;
}

export function createPending<Item>(): Pending<Item> {
  const weights = new Map<Item, Weight>();
  const halted = new Set<Item>();
  const moving = new Map<string | null, Set<Item>>();
  let bytes = 0;

  function drop(item: Item): void {
    const weight = weights.get(item);
    if (weight === undefined) return;
    weights.delete(item);
    halted.delete(item);
    bytes -= weight.bytes;
    const others = moving.get(weight.project);
    others?.delete(item);
    if (others?.size === 0) moving.delete(weight.project);
  }

  return {
    drop,
    note(item, weight) {
      const before = weights.get(item);
      if (before?.project === weight.project && before.halted === weight.halted) {
        bytes += weight.bytes - before.bytes;
        weights.set(item, weight);
        return;
      }
      drop(item);
      weights.set(item, weight);
      bytes += weight.bytes;
      if (weight.halted) halted.add(item);
      else moving.set(weight.project, (moving.get(weight.project) ?? new Set()).add(item));
    },
    moving: () => weights.size - halted.size,
    totals: () => ({ pending: weights.size, bytes }),
    pick(most) {
      const picked = new Set(halted);
      for (const [first] of moving.values()) if (first !== undefined) picked.add(first);
      for (const items of moving.values()) {
        for (const item of items) {
          if (picked.size - halted.size >= most) return picked;
          picked.add(item);
        }
      }
      return picked;
    },
  };
}
