/** More names than this in half a second may be more than the kernel's queue of 16,384 events, the usual length. */
const MOST_NAMES = 4000;
const WITHIN_MS = 500;

/**
 * Notices that so many events came at once that the kernel's queue may have run over, which nothing tells: a quarter of
 * what it holds within half a second.
 */
export class Flood {
  readonly #most: number;
  #since = Number.NEGATIVE_INFINITY;
  #names = 0;

  /** `queue`: events that the kernel's queue holds (fs.inotify.max_queued_events); `null`: not known. */
  constructor(queue: number | null) {
    this.#most = queue === null ? MOST_NAMES : Math.min(MOST_NAMES, Math.floor(queue / 4));
  }

  /** One more event. True: that was too many, and the count begins again. `now`: monotonic, ms. */
  event(now: number): boolean {
    if (now - this.#since > WITHIN_MS) this.#begin(now);
    this.#names += 1;
    if (this.#names <= this.#most) return false;
    this.#begin(now);
    return true;
  }

  #begin(now: number): void {
    this.#since = now;
    this.#names = 0;
  }
}
