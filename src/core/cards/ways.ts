import { joinPath } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';
import { order, type Slot } from './claim-board.ts';
import type { Place } from './reconciliation.ts';

/** Files whose copy is not known are looked for below so many of a card's folders, those with most of it first. */
const PLACES_EACH = 4;

/** A folder of the card that arrived as a folder of a volume. */
export interface Way {
  volume: string;
  base: PathText;
  prefix: PathText;
  files: number;
}

/** The ways that most files took, those with most first. */
export function waysOf(slots: readonly Slot[]): Way[] {
  const ways = new Map<string, Way>();
  for (const { taken } of slots) {
    if (taken === null || taken.renamed) continue;
    const { base, prefix } = taken;
    const { volume } = taken.copy.candidate;
    const key = `${volume}\0${base}\0${prefix}`;
    const way = ways.get(key) ?? { volume, base, prefix, files: 0 };
    way.files += 1;
    ways.set(key, way);
  }
  return [...ways.values()].sort((one, other) => other.files - one.files || order(wayKey(one), wayKey(other)));
}

function wayKey({ volume, base, prefix }: Way): string {
  return `${volume}\0${base}\0${prefix}`;
}

/** Where a file of the card should lie. */
export function placesOnWays(path: PathText, ways: readonly Way[]): Place[] {
  return ways
    .filter(({ prefix }) => prefix === '' || path.startsWith(`${prefix}/`))
    .slice(0, PLACES_EACH)
    .map(({ volume, base, prefix }) => ({
      volume,
      path: joinPath(base, prefix === '' ? path : path.slice(prefix.length + 1)),
    }));
}
