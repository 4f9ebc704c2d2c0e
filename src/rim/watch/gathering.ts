/** From so many events a second on it is cheaper to let them gather. */
const MANY_PER_SECOND = 40;
/** What comes meanwhile waits for so long. */
const GATHER_MS = 150;

export interface GatheringOptions {
  /** Somebody waits for us. */
  isBusy: () => boolean;
  now?: () => number;
  /** Stands still for so many milliseconds. */
  sleep?: (ms: number) => void;
}

/**
 * Events that need nothing done now (writes to files known to be open, frames of a sequence), tens or hundreds a second: to be
 * woken for each costs five times as much as the events themselves. So while such events come, and nobody waits for us, the process stands still for a
 * moment, and the kernel hands out those of that time together. Its queue holds many seconds of them.
 */
export class Gathering {
  readonly #options: Required<GatheringOptions>;
  #second = { since: Number.NEGATIVE_INFINITY, events: 0, before: 0 };
  #due = false;

  constructor(options: GatheringOptions) {
    this.#options = { now: () => performance.now(), sleep: standStill, ...options };
  }

  /** An event came that needs nothing done now. */
  came(): void {
    const now = this.#options.now();
    const passed = now - this.#second.since;
    if (passed >= 1000) this.#second = { since: now, events: 0, before: passed < 2000 ? this.#second.events : 0 };
    this.#second.events += 1;
    if (this.#due || this.#second.before < MANY_PER_SECOND) return;
    this.#due = true;
    // After all that this turn of the event loop brought.
    setImmediate(() => {
      this.#due = false;
      if (!this.#options.isBusy()) this.#options.sleep(GATHER_MS);
    });
  }
}

const nobodyWakes = new Int32Array(new SharedArrayBuffer(4));

function standStill(ms: number): void {
  Atomics.wait(nobodyWakes, 0, 0, ms);
}
