const BEAT_MS = 125;
/** The loop stood still if a beat comes this much too late. */
const LATE_MS = 125;
/** It goes on beating for so long after the last event. */
const AFTER_EVENTS_MS = 2000;

/**
 * Notices that the loop stood still for 250 ms while events came: the queue of the kernel may have run over meanwhile,
 * which nothing tells. Without events there is no queue that could, and nothing beats: eight beats a second would be most of what
 * an idle root costs.
 */
export class Heartbeat {
  readonly #onLag: () => void;
  #timer: NodeJS.Timeout | null = null;
  #beatAt = 0;
  #eventAt = 0;

  constructor(onLag: () => void) {
    this.#onLag = onLag;
  }

  /** An event has come. */
  event(now: number): void {
    this.#eventAt = now;
    if (this.#timer !== null) return;
    this.#beatAt = now;
    this.#timer = setInterval(() => this.#beat(performance.now()), BEAT_MS);
  }

  close(): void {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
  }

  #beat(now: number): void {
    if (now - this.#beatAt > BEAT_MS + LATE_MS) this.#onLag();
    this.#beatAt = now;
    if (now - this.#eventAt > AFTER_EVENTS_MS) this.close();
  }
}
