import { replaceable } from '../intake/take-source.ts';
import type { ClipKin, SignClip } from './clip-kin.ts';
import { isMade } from './footprint.ts';
import { NO_SIGNS, type ProjectSigns } from './project-signs.ts';

/**
 * Of which clip each proxy and render of a project is, while clips come and go. What a clip may change is noted when it comes or goes,
 * and looked at in `settle`: of a large project that is much in the beginning, and next to nothing later.
 */
export class MadeIndex {
  readonly #project: string;
  readonly #kin: ClipKin;
  readonly #sourceOf = new Map<SignClip, string>();
  /** The other way round, by the unit of the source. */
  readonly #madeOf = new Map<string, Set<SignClip>>();
  readonly #unsourced = new Set<SignClip>();
  /** What was not told yet of who is among them, by unit. */
  readonly #untold = new Map<string, boolean>();
  readonly #open = new Set<SignClip>();

  /** `kin`: holds the clips of the project, and is told first. */
  constructor(project: string, kin: ClipKin) {
    this.#project = project;
    this.#kin = kin;
  }

  /** A clip came, or went. */
  touch(clip: SignClip): void {
    for (const near of this.#kin.near(clip)) if (isMade(near.kind)) this.#open.add(near);
  }

  /** What had been made is gone. Returns the unit that it was of; `null`: none, or none is known. */
  remove(made: SignClip): string | null {
    this.#open.delete(made);
    this.#noteSource(made, true);
    return this.#unlink(made);
  }

  /** Looks at what is open, `most` at most. `moved`: units of which something was made by what is known now, or was until now. */
  settle(most: number): { done: boolean; moved: Set<string> } {
    const moved = new Set<string>();
    let looked = 0;
    for (const made of this.#open) {
      if (looked >= most) return { done: false, moved };
      looked += 1;
      this.#open.delete(made);
      const source = this.#judge(made);
      if (source === (this.#sourceOf.get(made) ?? null)) continue;
      const before = this.#unlink(made);
      if (source !== null) this.#link(made, source);
      for (const unit of [before, source]) if (unit !== null) moved.add(unit);
    }
    return { done: true, moved };
  }

  /** What is known to be made of a unit. */
  madeOf(unit: string): ReadonlySet<SignClip> {
    return this.#madeOf.get(unit) ?? new Set();
  }

  /** Units that are among those without a known source now, or no longer (`false`), since this was asked last; `most` at most. */
  nextUnsourced(most: number): [unit: string, isUnsourced: boolean][] {
    const some = [...this.#untold.entries().take(most)];
    for (const [unit] of some) this.#untold.delete(unit);
    return some;
  }

  /** As far as it is settled. */
  unsourced(): ProjectSigns['unsourced'] {
    const sum = { ...NO_SIGNS.unsourced };
    for (const { bytes, facts } of this.#unsourced) {
      sum.clips += 1;
      sum.bytes += bytes;
      sum.durationSeconds += facts.durationSeconds ?? 0;
    }
    return sum;
  }

  #judge(made: SignClip): string | null {
    const among = (clips: Iterable<SignClip>) => {
      const sources = [...clips].filter(({ kind }) => !isMade(kind));
      return replaceable(
        { ...made, project: this.#project },
        sources.map((source) => ({ ...source, project: this.#project })),
      );
    };
    // Most lie with the take that they are of; names may be those of hundreds of clips.
    const byTake = among(this.#kin.ofTake(made));
    const { source, replaceable: hasSource } = byTake.reason === 'same-take' ? byTake : among(this.#kin.near(made));
    this.#noteSource(made, hasSource);
    return source;
  }

  #noteSource(made: SignClip, hasSource: boolean): void {
    if (this.#unsourced.has(made) === !hasSource) return;
    if (hasSource) this.#unsourced.delete(made);
    else this.#unsourced.add(made);
    this.#untold.set(made.unit, !hasSource);
  }

  #link(made: SignClip, source: string): void {
    this.#sourceOf.set(made, source);
    const all = this.#madeOf.get(source);
    if (all === undefined) this.#madeOf.set(source, new Set([made]));
    else all.add(made);
  }

  #unlink(made: SignClip): string | null {
    const source = this.#sourceOf.get(made) ?? null;
    if (source === null) return null;
    this.#sourceOf.delete(made);
    const all = this.#madeOf.get(source);
    all?.delete(made);
    if (all?.size === 0) this.#madeOf.delete(source);
    return source;
  }
}
