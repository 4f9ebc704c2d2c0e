import type { PathText } from '../../core/model.ts';

const ROUND_MS = 60_000;
/** Of very many folders a round takes longer, so that no second is spent on them alone. */
const MOST_AT_ONCE = 50;

/**
 * Goes through folders that have no watch, all of them once a minute, a few at a time: that a file was written to in
 * place does not show in its folder's time.
 */
export class Rounds {
  #round: PathText[] = [];
  #at = 0;
  #begun = Number.NEGATIVE_INFINITY;

  /** The folders to be read now. `now`: monotonic, ms; asked about once a second. */
  next(unwatched: ReadonlySet<PathText>, now: number): PathText[] {
    const over = this.#at >= this.#round.length;
    if (over && unwatched.size > 0 && now - this.#begun >= ROUND_MS) {
      this.#round = [...unwatched];
      this.#at = 0;
      this.#begun = now;
    }
    const many = Math.min(MOST_AT_ONCE, Math.ceil((this.#round.length * 1000) / ROUND_MS));
    const from = this.#at;
    this.#at += many;
    return this.#round.slice(from, this.#at).filter((dir) => unwatched.has(dir));
  }
}
