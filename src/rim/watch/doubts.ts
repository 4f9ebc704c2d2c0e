import type { PathText } from '../../core/model.ts';

/** Events are looked at within a tenth of a second; this is enough on a busy machine as well. */
const SETTLED_MS = 1000;

/**
 * Folders whose time is later than events have told of. In a folder that is being written to that is so at every look; if
 * it were read each time, 24 frames a second would have 12,000 others read again and again. So the question is put off.
 */
export class Doubts {
  readonly #resolve: (dir: PathText, mtimeNs: bigint) => void;
  readonly #waiting = new Map<PathText, bigint>();
  #timer: NodeJS.Timeout | null = null;

  /** `resolve` is asked about each folder, with the earliest time that was in doubt, about a second later. */
  constructor(resolve: (dir: PathText, mtimeNs: bigint) => void) {
    this.#resolve = resolve;
  }

  add(dir: PathText, mtimeNs: bigint): void {
    if (!this.#waiting.has(dir)) this.#waiting.set(dir, mtimeNs);
    this.#timer ??= setTimeout(() => this.#settle(), SETTLED_MS);
  }

  close(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#waiting.clear();
  }

  #settle(): void {
    this.#timer = null;
    const waiting = [...this.#waiting];
    this.#waiting.clear();
    for (const [dir, mtimeNs] of waiting) this.#resolve(dir, mtimeNs);
  }
}
