import { AngleSessions, type ChangedSessions } from './angle-sessions.ts';
import type { MulticamGroup } from './assessment.ts';
import { ClipKin, type SignClip } from './clip-kin.ts';
import { isMade } from './footprint.ts';
import { MadeIndex } from './made-index.ts';
import type { ProjectPlace, ProjectSigns } from './project-signs.ts';
import { clipRateBps } from './stream-load.ts';
import { TwiceIndex } from './twice-index.ts';

/**
 * All clips of one project on one volume, with what they show together: multicam groups, with the proxies of their angles, and other
 * signs. A clip that comes or goes costs what lies near it, not the project.
 */
export class ProjectSearch {
  readonly #clips = new Map<string, SignClip>();
  readonly #kin = new ClipKin();
  readonly #sessions = new AngleSessions();
  readonly #made: MadeIndex;
  readonly #twice: TwiceIndex;

  constructor({ volume, project }: ProjectPlace) {
    this.#made = new MadeIndex(project, this.#kin);
    this.#twice = new TwiceIndex(volume);
  }

  get size(): number {
    return this.#clips.size;
  }

  /** A clip is there, or is another one now. */
  put(clip: SignClip): void {
    this.remove(clip.unit);
    this.#clips.set(clip.unit, clip);
    this.#kin.put(clip);
    this.#made.touch(clip);
    this.#twice.put(clip);
    this.#sessions.put(clip);
  }

  remove(unit: string): void {
    const clip = this.#clips.get(unit);
    if (clip === undefined) return;
    this.#clips.delete(unit);
    this.#kin.remove(clip);
    this.#made.touch(clip);
    this.#twice.remove(clip);
    this.#sessions.remove(unit);
    const source = isMade(clip.kind) ? this.#made.remove(clip) : null;
    if (source !== null) this.#sessions.touch(source);
  }

  /** Looks at what clips that came and went have changed besides angles, about `most` clips of it. `true`: nothing is left. */
  settle(most: number): boolean {
    const { done, moved } = this.#made.settle(most);
    for (const unit of moved) this.#sessions.touch(unit);
    return done && this.#twice.settle(most);
  }

  /** Everything is to be told once more. */
  retell(): void {
    this.#sessions.touchAll();
  }

  /** Sessions whose groups may be others than when they were told last, of about `most` clips. To be settled first. */
  nextChanged(most: number): ChangedSessions {
    const { sessions, gone, more } = this.#sessions.nextChanged(most);
    const told = sessions.map(({ session, groups }) => ({
      session,
      groups: groups.map((one) => this.#withProxies(one)),
    }));
    return { sessions: told, gone, more };
  }

  /** Units of proxies and renders whose source is not known any longer, or is now (`false`), since this was asked last; `most` at most. */
  nextUnsourced(most: number): [unit: string, isUnsourced: boolean][] {
    return this.#made.nextUnsourced(most);
  }

  /** As far as they are settled. */
  signs(): ProjectSigns {
    return { unsourced: this.#made.unsourced(), twice: this.#twice.sum() };
  }

  #withProxies(group: MulticamGroup): MulticamGroup {
    return { ...group, members: group.members.map((member) => ({ ...member, proxy: this.#proxyOf(member.unit) })) };
  }

  /** Of several the heaviest. */
  #proxyOf(unit: string): MulticamGroup['members'][number]['proxy'] {
    let heaviest: MulticamGroup['members'][number]['proxy'] = null;
    for (const made of this.#made.madeOf(unit)) {
      const bps = made.kind === 'proxy' ? clipRateBps(made) : null;
      if (bps !== null && bps > (heaviest?.bps ?? 0)) heaviest = { path: made.paths[0] ?? made.unit, bps };
    }
    return heaviest;
  }
}
