import type { Instant } from '../model.ts';
import type { CopiesWanted } from './project-copies.ts';

/** Each copy is read again within this time; one that was not is no ground for taking anything away. */
export const READ_PERIOD_MS = 60 * 86_400_000;

/** Three in all with the working volume: what the configuration means where it says nothing. */
const USUAL = 2;
const STEP_MS = 6 * 3_600_000;

/** A shelf of the configuration, as far as it is known on what it lies. */
export interface ShelfPlace {
  name: string;
  volumes: readonly string[];
  known: { drive: string | null } | null;
}

/** Drives on which the shelves of a volume lie. Of one that was never seen, or does not tell, nothing says that it lies with another. */
export function shelfDrives(shelves: readonly ShelfPlace[], volume: string): number {
  const mine = shelves.filter(({ volumes }) => volumes.includes(volume));
  return new Set(mine.map(({ name, known }) => (known?.drive == null ? `shelf ${name}` : `drive ${known.drive}`))).size;
}

/**
 * How many verified copies are wanted of what lies on a volume. `said`: in the configuration; `null`: two, but one where all its shelves lie on
 * one drive, for a second copy would have nowhere to go, and everything would count as exposed for ever. So is it where a program copies alone;
 * beside a shelf its copies are none that can be counted on: whether they can be read back, and from a medium, nobody knows before.
 */
function wantedOn(said: number | null, drives: number): number {
  return said ?? (drives === 1 ? 1 : USUAL);
}

/** `wantedOn` of each volume. `programs`: those of the user's that copy. */
export function wantedCopies(
  said: number | null,
  volumes: readonly string[],
  shelves: readonly ShelfPlace[],
  programs: readonly { volume: string }[],
): CopiesWanted {
  const placesOf = (volume: string): number => {
    const drives = shelfDrives(shelves, volume);
    return drives === 0 && programs.some((program) => program.volume === volume) ? 1 : drives;
  };
  const byVolume = volumes.map((volume) => [volume, wantedOn(said, placesOf(volume))] as const);
  return { copies: said ?? USUAL, byVolume: Object.fromEntries(byVolume) };
}

/** Copies count that were read at this instant or later. It moves in steps, always to the later side: what hangs on it is not counted all the time. */
export function readSince(now: Instant, periodMs: number): Instant {
  return Math.ceil((now - periodMs) / STEP_MS) * STEP_MS;
}
