import type { Removal } from '../store-ports.ts';

/** What was removed from a volume within a day. */
export interface Removed {
  files: number;
  bytes: number;
  /** Of these bytes, of footage. */
  footageBytes: number;
}

/** All of it together. Bytes that one project lost and another got, with the last name of a content, cancel out. */
export function sumRemovals(removals: readonly Removal[]): Removed {
  const sum = (of: (removal: Removal) => number) => removals.reduce((total, removal) => total + of(removal), 0);
  return {
    files: sum(({ files }) => files),
    bytes: sum(({ bytes }) => bytes),
    footageBytes: sum(({ footageBytes }) => footageBytes),
  };
}
