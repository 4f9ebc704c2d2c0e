import type { ArrivalSnapshot } from './snapshot.ts';
import type { CardSnapshot } from './snapshot-cards.ts';
import type { ProjectSnapshot } from './snapshot-project.ts';

/** Arrivals that are not ready yet: those that need a person first, then the largest. */
export function pendingArrivals(arrivals: readonly ArrivalSnapshot[]): ArrivalSnapshot[] {
  return arrivals.filter(({ state }) => state !== 'ready').toSorted(byTrouble);
}

/** What is not what its list says first, and of which footage is missing; then those that were never complete, then those that are there. */
export function cardsByTrouble(cards: readonly CardSnapshot[]): CardSnapshot[] {
  const rank = ({ missingFootage, complete, wasComplete, state, check = null }: CardSnapshot) =>
    (check?.altered ?? 0) > 0
      ? 0
      : complete || wasComplete
        ? state === 'mounted'
          ? 2
          : 3
        : missingFootage > 0
          ? 0
          : 1;
  return cards.toSorted((one, other) => rank(one) - rank(other));
}

/** Where a list is cut, the small ones fall off. What is left on shelves alone counts as if it were here. */
export function largestFirst(projects: readonly ProjectSnapshot[]): ProjectSnapshot[] {
  const size = ({ bytes, gone = false, safety }: ProjectSnapshot) => (gone ? (safety.onlyOnShelf ?? 0) : bytes);
  return projects.toSorted((one, other) => size(other) - size(one));
}

/** An arrival that goes no further by itself. */
export function isHalted({ state }: ArrivalSnapshot): boolean {
  return state === 'stalled' || state === 'refused';
}

function byTrouble(one: ArrivalSnapshot, other: ArrivalSnapshot): number {
  return Number(isHalted(other)) - Number(isHalted(one)) || other.bytes - one.bytes;
}
