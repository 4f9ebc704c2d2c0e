import type { PathText } from '../../core/model.ts';

const ROUND_MS = 60_000;
/** Of very many folders a round takes longer, so that no second is spent on them alone. */
const MOST_A_SECOND = 50;
const FIRST_STEP_MS = 1000;
/** Asked after a longer time, no more is made up for. */
const LONGEST_STEP_MS = 2500;

/**
 * Goes through folders that have no watch, all of them once a minute, a few at a time: that a file was written to in
 * place does not show in its folder's time.
 */
export class Rounds {
  #round: PathText[] = [];
  #at = 0;
  #begun = Number.NEGATIVE_INFINITY;
  #askedAt: number | null = null;

  /** The folders to be read now. `now`: monotonic, ms; asked every few seconds. */
  next(unwatched: ReadonlySet<PathText>, now: number): PathText[] {
    const over = this.#at >= this.#round.length;
    if (over && unwatched.size > 0 && now - this.#begun >= ROUND_MS) {
      this.#round = [...unwatched];
      this.#at = 0;
      this.#begun = now;
    }
    const since = Math.min(now - (this.#askedAt ?? now - FIRST_STEP_MS), LONGEST_STEP_MS);
    this.#askedAt = now;
    const many = Math.min((MOST_A_SECOND * since) / 1000, Math.ceil((this.#round.length * since) / ROUND_MS));
    const from = this.#at;
    this.#at += many;
    return this.#round.slice(from, this.#at).filter((dir) => unwatched.has(dir));
  }
}
