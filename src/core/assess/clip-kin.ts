import { takeOf } from '../intake/take-name.ts';
import { takeKey } from '../intake/take-source.ts';
import type { Clip } from '../model.ts';
import type { AngleClip } from './clip-times.ts';

/** What of a clip is looked at where the clips of a project are looked at together. */
export type SignClip = AngleClip & Pick<Clip, 'bytes'>;

/** The clips of one project, by what a clip and what was made from it have in common: only what is near is ever compared. */
export class ClipKin {
  readonly #near = new Map<string, Set<SignClip>>();

  put(clip: SignClip): void {
    for (const key of sourceKeys(clip)) {
      const near = this.#near.get(key);
      if (near === undefined) this.#near.set(key, new Set([clip]));
      else near.add(clip);
    }
  }

  /** `clip`: the one that was put, not one like it. */
  remove(clip: SignClip): void {
    for (const key of sourceKeys(clip)) {
      const near = this.#near.get(key);
      near?.delete(clip);
      if (near?.size === 0) this.#near.delete(key);
    }
  }

  /** All clips that have a sign in common with this one, which may be among them. */
  near(clip: SignClip): Set<SignClip> {
    return new Set(sourceKeys(clip).flatMap((key) => [...(this.#near.get(key) ?? [])]));
  }

  /** Those of its take alone. */
  ofTake(clip: SignClip): ReadonlySet<SignClip> {
    return this.#near.get(keyOfTake(clip)) ?? new Set();
  }
}

/** A clip and what was made from it have one of these in common. */
function sourceKeys(clip: SignClip): string[] {
  const { reel, startTimecode } = clip.facts;
  const recorded = reel === null || startTimecode === null ? [] : [`reel\0${reel}\0${startTimecode}`];
  return [keyOfTake(clip), `name\0${takeOf(clip.name).stem.toLowerCase()}`, ...recorded];
}

function keyOfTake({ unit }: SignClip): string {
  return `take\0${takeKey(unit)}`;
}
