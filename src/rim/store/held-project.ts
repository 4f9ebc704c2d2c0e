import type { MulticamGroup } from '../../core/assess/assessment.ts';
import { ProjectSearch } from '../../core/assess/project-search.ts';
import type { ProjectPlace } from '../../core/assess/project-signs.ts';
import type { SearchAnswer } from '../../core/multicam-port.ts';
import type { AngleClips, ClipCursor } from './angle-clips.ts';
import type { KeptGroups } from './kept-groups.ts';
import type { Touched } from './touched.ts';

export interface HeldDeps {
  clips: AngleClips;
  kept: KeptGroups;
  touched: Touched;
  /** Clips read in one step. */
  slice: number;
  /** Clips whose groups are looked for in one step, and sessions that are told or kept in one. */
  told: number;
}

const MORE: SearchAnswer = { step: 'more', sessions: [], gone: [], anew: false, signs: null };

/** A project whose clips are held: read once, then only what came and went; what is found is told and kept, each a slice at a time. */
export class HeldProject {
  readonly place: ProjectPlace;
  readonly #deps: HeldDeps;
  readonly #search: ProjectSearch;
  /** How often the project had changed when it was read last. */
  #changes: number;
  /** Of the reading under way; `null`: through. */
  #after: ClipCursor | null = { readyAt: Number.MIN_SAFE_INTEGER, id: 0 };
  #isTold = false;
  #tellsAnew = true;
  /** What is not kept yet. */
  readonly #unkept = new Map<number, MulticamGroup[]>();
  #isKept: 'no' | 'begun' | 'yes' = 'no';
  /** Sessions of an earlier search lie in the store. */
  #keptBefore = true;

  constructor(place: ProjectPlace, deps: HeldDeps) {
    this.place = place;
    this.#deps = deps;
    this.#search = new ProjectSearch(place);
    this.#changes = deps.kept.changes(place);
    // What is touched from now on is read again; what was before is read anyway.
    deps.touched.watch(place);
  }

  get size(): number {
    return this.#search.size;
  }

  release(): void {
    this.#deps.touched.unwatch(this.place);
  }

  /** `changes`: of the project, now. `known`: all that was told is known. */
  step(changes: number, known: boolean): SearchAnswer {
    if (!known && !this.#tellsAnew) {
      this.#search.retell();
      this.#tellsAnew = true;
      this.#isTold = false;
      if (this.#isKept === 'yes') this.#isKept = 'no';
    }
    if (this.#after !== null) return this.#readMore(this.#after);
    if (this.#changes !== changes) this.#readTouched(changes);
    if (!this.#search.settle(this.#deps.slice)) return MORE;
    if (!this.#isTold) return this.#tell();
    if (this.#isKept === 'yes') return { ...MORE, step: 'current' };
    return this.#keep();
  }

  #readMore(from: ClipCursor): SearchAnswer {
    const { clips, after } = this.#deps.clips.next(this.place.volume, this.place.project, from);
    for (const clip of clips) this.#search.put(clip);
    this.#after = after;
    return MORE;
  }

  #readTouched(changes: number): void {
    for (const unit of this.#deps.touched.take(this.place)) {
      const clip = this.#deps.clips.one(this.place.volume, this.place.project, unit);
      if (clip === null) this.#search.remove(unit);
      else this.#search.put(clip);
    }
    this.#changes = changes;
    this.#isTold = false;
    if (this.#isKept === 'yes') this.#isKept = 'no';
  }

  #tell(): SearchAnswer {
    const { sessions, gone, more } = this.#search.nextChanged(this.#deps.told);
    for (const { session, groups } of sessions) this.#unkept.set(session, groups);
    for (const session of gone) this.#unkept.set(session, []);
    const anew = this.#tellsAnew;
    this.#tellsAnew = false;
    this.#isTold = !more;
    return { step: more ? 'part' : 'groups', sessions, gone, anew, signs: null };
  }

  #keep(): SearchAnswer {
    const { kept, told } = this.#deps;
    if (this.#isKept === 'no') {
      kept.begin(this.place, this.#keptBefore);
      this.#keptBefore = false;
      this.#isKept = 'begun';
    }
    const some = [...this.#unkept.entries().take(told)];
    kept.put(this.place, some);
    for (const [session] of some) this.#unkept.delete(session);
    if (this.#unkept.size > 0) return MORE;
    const unsourced = this.#search.nextUnsourced(this.#deps.slice);
    if (unsourced.length > 0) {
      kept.putUnsourced(this.place, unsourced);
      return MORE;
    }
    const signs = this.#search.signs();
    kept.finish(this.place, this.#changes, signs);
    this.#isKept = 'yes';
    return { ...MORE, step: 'found', signs };
  }
}
