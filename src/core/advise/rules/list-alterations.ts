import type { Inventory } from '../../cards/inventory.ts';
import type { ListCheck } from '../../cards/list-check.ts';
import { joinPath } from '../../intake/path-text.ts';
import type { PathText } from '../../model.ts';

/** Files on volumes that are not as one list says. */
export interface Alteration {
  /** Since when. */
  since: number;
  count: number;
  /** Of the first of them. */
  places: readonly string[];
}

/** `on`: where the list lies, and its paths begin; `null`: on a card, and each file tells its place itself. */
export function alterationOf({ altered, first, since }: ListCheck, on: Inventory['on']): Alteration {
  const keyOf = (volume: string, path: PathText) => `${volume}\0${path}`;
  const places = first.altered.map(({ path, at }) =>
    at === undefined ? keyOf(on?.volume ?? '', joinPath(on?.base ?? '', path)) : keyOf(at.volume, at.path),
  );
  // What an earlier version kept does not tell since when.
  return { since: since ?? Number.NEGATIVE_INFINITY, count: altered, places };
}

/**
 * Whether another list, which was found out first, tells the same files: the same list that lies on the card and came along
 * with the footage, or two lists of one folder. `all` in the order of their subjects.
 */
export function isToldElsewhere(one: Alteration, all: readonly Alteration[]): boolean {
  return all.some((other, place) => {
    const isEarlier = other.since < one.since || (other.since === one.since && place < all.indexOf(one));
    return isEarlier && other.count >= one.count && one.places.every((each) => other.places.includes(each));
  });
}
