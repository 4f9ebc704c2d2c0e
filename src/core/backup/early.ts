import type { Instant } from '../model.ts';

/** What was seen of a volume when it was last asked. */
export interface EarlyState {
  exposedBytes: number;
  /** When something last arrived, or more was exposed than before. */
  busyAt: Instant;
}

export interface EarlySeen {
  /** `null`: not known. */
  exposedBytes: number | null;
  /** Since when the oldest of it is exposed. */
  exposedSince: Instant | null;
  /** Something is arriving. */
  isArriving: boolean;
  /** When a backup of the volume was last begun; `null`: never. */
  lastBegun: Instant | null;
}

/** A card is through when nothing has come for so long: people change cards in less (common practice, no source). */
const QUIET_MS = 10 * 60_000;
/** Nothing is to be without a second copy for longer. */
const OLD_MS = 12 * 3_600_000;

/**
 * Does a backup begin before the night? When what came is through, however little it is: a short interview is as lost as a long concert. And when
 * something has been exposed for half a day without one having been begun. Each time once: a backup that did not help is told by others.
 */
export function early(
  known: EarlyState | null,
  { exposedBytes, exposedSince, isArriving, lastBegun }: EarlySeen,
  now: Instant,
): { state: EarlyState | null; start: 'card-finished' | 'age' | null } {
  if (exposedBytes === null) return { state: known, start: null };
  const isBusy = known === null || isArriving || exposedBytes > known.exposedBytes || known.busyAt > now;
  const state = { exposedBytes, busyAt: isBusy ? now : known.busyAt };
  if (exposedBytes === 0) return { state, start: null };
  const isQuiet = now - state.busyAt >= QUIET_MS;
  if (isQuiet && (lastBegun === null || lastBegun < state.busyAt)) return { state, start: 'card-finished' };
  const isOld = exposedSince !== null && now - exposedSince >= OLD_MS;
  const isDue = lastBegun === null || now - lastBegun >= OLD_MS;
  return { state, start: isOld && isDue && isQuiet ? 'age' : null };
}
