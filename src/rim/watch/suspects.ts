import { dirName } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';

/** Where something happened within so long before events were lost, lost events are likeliest. */
const LATELY_MS = 60_000;
/** Read when nothing has been lost for so long: once for a flood, not again and again while it lasts. */
const QUIET_MS = 1000;
/** But in any case after so long. */
const LONGEST_MS = 10_000;

/**
 * The folders in which something happened lately. When events may have been lost they are read: that a file was
 * written to in place shows neither in its folder's time nor anywhere else.
 */
export class Suspects {
  readonly #read: (dir: PathText) => void;
  /** When each was last told of, ms; the one told of last is the last. */
  readonly #told = new Map<PathText, number>();
  #timer: NodeJS.Timeout | null = null;
  #since = 0;

  constructor(read: (dir: PathText) => void) {
    this.#read = read;
  }

  /** An event has come for this name. `now`: monotonic, ms. */
  event(path: PathText, now: number): void {
    const dir = dirName(path);
    this.#told.delete(dir);
    this.#told.set(dir, now);
    if (this.#timer === null) this.#dropBefore(now - LATELY_MS);
  }

  /** Events may have been lost. */
  mistrust(now: number): void {
    if (this.#timer === null) {
      this.#since = now;
      this.#dropBefore(now - LATELY_MS);
    } else clearTimeout(this.#timer);
    const wait = Math.max(0, Math.min(QUIET_MS, this.#since + LONGEST_MS - now));
    this.#timer = setTimeout(() => this.#readAll(), wait);
  }

  close(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  #readAll(): void {
    this.#timer = null;
    for (const dir of this.#told.keys()) this.#read(dir);
  }

  #dropBefore(earliest: number): void {
    for (const [dir, at] of this.#told) {
      if (at >= earliest) return;
      this.#told.delete(dir);
    }
  }
}
