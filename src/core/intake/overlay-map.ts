/**
 * An immutable map that is cheap to change a little at a time: what was changed lately lies over a larger base that old
 * and new versions share. A sequence of 12,000 frames that grows by 24 a second would otherwise be copied 24 times a second.
 */
export interface OverlayMap<Value> {
  readonly size: number;
  readonly base: ReadonlyMap<string, Value>;
  /** `null` hides an entry of the base. */
  readonly recent: ReadonlyMap<string, Value | null>;
}

/** So many recent changes are carried before they are merged into a new base. */
const RECENT_LIMIT = 256;

/** Nobody writes into a map that is there already, so one empty one does for all: it is as large as many a unit. */
const NONE = new Map<string, never>();

/** A map without entries. */
export function emptyMap<Value>(): OverlayMap<Value> {
  return { size: 0, base: NONE, recent: NONE };
}

/** The value under a key, or `undefined`. */
export function lookUp<Value>(map: OverlayMap<Value>, key: string): Value | undefined {
  const recent = map.recent.get(key);
  if (recent === null) return undefined;
  return recent ?? map.base.get(key);
}

/** The map with some entries set, or taken out (`null`). The map given stays as it is. */
export function withEntries<Value>(
  map: OverlayMap<Value>,
  changes: Iterable<readonly [string, Value | null]>,
): OverlayMap<Value> {
  const recent = new Map(map.recent);
  let size = map.size;
  for (const [key, value] of changes) {
    const before = recent.has(key) ? recent.get(key) !== null : map.base.has(key);
    size += (value === null ? 0 : 1) - (before ? 1 : 0);
    recent.set(key, value);
  }
  const changed: OverlayMap<Value> = { size, base: map.base, recent };
  return recent.size <= RECENT_LIMIT ? changed : { size, base: new Map(entries(changed)), recent: NONE };
}

/** Every entry once, in no promised order. */
export function* entries<Value>(map: OverlayMap<Value>): Generator<[string, Value]> {
  for (const [key, value] of map.base) if (!map.recent.has(key)) yield [key, value];
  for (const [key, value] of map.recent) if (value !== null) yield [key, value];
}
