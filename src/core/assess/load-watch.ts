/*
 * When a volume that is hard at work is worth a word: its load is smoothed, must stay high for some minutes, and must be clearly lower
 * for some before it counts as over. On noisy loads the raw value crosses a line a hundred times as often as something happens.
 */

/** Time constant of the smoothing, seconds. */
const SMOOTHED_OVER = 60;
/** Above this share of what the volume gives it is too much, below the other it is not. */
const HIGH = 0.75;
const LOW = 0.65;
/** Seconds that it must hold. */
const RAISE_AFTER = 180;
const CLEAR_AFTER = 120;

export interface LoadWatch {
  /** The smoothed load, a share of what the volume gives; `null`: nothing was seen yet. */
  load: number | null;
  isHigh: boolean;
  /** Seconds that the load has been on the other side of its line. */
  heldSeconds: number;
}

export const NOTHING_WATCHED: LoadWatch = { load: null, isHigh: false, heldSeconds: 0 };

/** One more sample of `seconds`: `share` is what went on, of what the volume gives (0..; above 1 it gives more than is known). */
export function watchLoad(watch: LoadWatch, share: number, seconds: number): LoadWatch {
  const weight = 1 - Math.exp(-seconds / SMOOTHED_OVER);
  const load = watch.load === null ? share : watch.load + weight * (share - watch.load);
  const crossed = watch.isHigh ? load < LOW : load > HIGH;
  const heldSeconds = crossed ? watch.heldSeconds + seconds : 0;
  const isOver = heldSeconds >= (watch.isHigh ? CLEAR_AFTER : RAISE_AFTER);
  return isOver ? { load, isHigh: !watch.isHigh, heldSeconds: 0 } : { load, isHigh: watch.isHigh, heldSeconds };
}
