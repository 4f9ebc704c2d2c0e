import { recordedTwice, twiceKey } from '../intake/take-twice.ts';
import type { SignClip } from './clip-kin.ts';
import { NO_SIGNS, type ProjectSigns, type TwiceTake } from './project-signs.ts';

type Twice = ProjectSigns['twice'];

/** So many takes of each, those of one size and the others, are told with their places. */
const MOST_TOLD = 10;

/** Takes that seem to lie in a project more than once, while clips come and go. What came and went is looked at in `settle`. */
export class TwiceIndex {
  readonly #volume: string;
  /** Clips that may be one take, and what they count for. */
  readonly #alike = new Map<string, Set<SignClip>>();
  readonly #counted = new Map<string, Twice>();
  readonly #open = new Set<string>();
  readonly #sum = { ...NO_SIGNS.twice };

  constructor(volume: string) {
    this.#volume = volume;
  }

  put(clip: SignClip): void {
    const key = twiceKey(clip);
    if (key === null) return;
    const alike = this.#alike.get(key);
    if (alike === undefined) this.#alike.set(key, new Set([clip]));
    else alike.add(clip);
    this.#open.add(key);
  }

  /** `clip`: the one that was put, not one like it. */
  remove(clip: SignClip): void {
    const key = twiceKey(clip);
    if (key === null) return;
    this.#alike.get(key)?.delete(clip);
    this.#open.add(key);
  }

  /** Looks at what is open, about `most` clips of it. `true`: nothing is left. */
  settle(most: number): boolean {
    let looked = 0;
    for (const key of this.#open) {
      if (looked >= most) return false;
      looked += 1 + (this.#alike.get(key)?.size ?? 0);
      this.#open.delete(key);
      this.#count(key);
    }
    return true;
  }

  /** As far as it is settled. */
  sum(): Twice {
    return { ...this.#sum, some: [...this.#some(false), ...this.#some(true)] };
  }

  #some(sameSize: boolean): TwiceTake[] {
    const takes = this.#counted.values().flatMap(({ some }) => some);
    return [...takes.filter((take) => take.sameSize === sameSize).take(MOST_TOLD)];
  }

  #count(key: string): void {
    const clips = this.#alike.get(key) ?? new Set();
    const before = this.#counted.get(key) ?? NO_SIGNS.twice;
    const now = clips.size < 2 ? NO_SIGNS.twice : twiceAmong([...clips], this.#volume);
    this.#sum.takes += now.takes - before.takes;
    this.#sum.bytes += now.bytes - before.bytes;
    this.#sum.sameSize += now.sameSize - before.sameSize;
    if (now.takes > 0) this.#counted.set(key, now);
    else this.#counted.delete(key);
    if (clips.size === 0) this.#alike.delete(key);
  }
}

function twiceAmong(clips: readonly SignClip[], volume: string): Twice {
  const byUnit = new Map(clips.map((clip) => [clip.unit, clip]));
  const found = recordedTwice(clips.map((clip) => ({ ...clip, volume })));
  // Of each take the first counts as such, the others as what lies here once more.
  const bytes = found
    .flatMap((take) => take.clips.slice(1))
    .reduce((sum, { unit }) => sum + (byUnit.get(unit)?.bytes ?? 0), 0);
  const some = found.map(({ clips: all, sameBytes }): TwiceTake => {
    const mine = all.flatMap(({ unit }) => byUnit.get(unit) ?? []);
    const places = mine.map(({ paths, essenceBytes }) => ({ path: paths[0] ?? '', bytes: essenceBytes }));
    return { name: mine[0]?.name ?? '', sameSize: sameBytes, places };
  });
  return { takes: found.length, bytes, sameSize: found.filter(({ sameBytes }) => sameBytes).length, some };
}
