import { joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { Doubts } from './doubts.ts';
import { inSlices, type Steps } from './slices.ts';
import { type Visited, type VisitOptions, Visits } from './visits.ts';

export interface SurveyOptions extends Omit<VisitOptions, 'hasGone'> {
  /** Something looked as if the volume had gone. True: it has, and this survey is over. */
  rootChanged: () => boolean;
  /** Whether events name everything that happens in this folder. */
  trustEvents: (dir: PathText) => boolean;
}

/** `told`: every folder is told again; `changed`: those that are not as they were, the ones that changed lately first. */
export type WalkKind = 'told' | 'changed';

/**
 * `trusting`: what events told of is not read again. `wary`: only in large folders that were read lately it is not.
 * `distrustful`: it is. `lately`: and the folders that changed lately are read in any case.
 */
export type PassKind = 'trusting' | 'wary' | 'distrustful' | 'lately';

/** Of two passes that are asked for the warier one is made. */
const WARIER: readonly PassKind[] = ['trusting', 'wary', 'distrustful', 'lately'];

/** Pause before everything is read again when the reading itself failed. */
const AGAIN_MS = 1000;
/** Folders looked at in one step of a pass: a step costs as much as two looks. */
const LOOKS = 16;

interface Walk {
  kind: WalkKind;
  stack: PathText[];
  /** Read before their turn. */
  early: Set<PathText>;
  folders: number;
  files: number;
  startedAt: number;
  waiting: Waiter[];
}

interface Waiter {
  resolve: () => void;
  reject: (error: Error) => void;
}

/**
 * Keeps the daemon's picture of the folders right, with the memory of a mark per folder: full walks over the tree, passes
 * over the folders' times, and single folders at once. One piece of work at a time; single folders go first.
 */
export class Survey {
  readonly #options: SurveyOptions;
  readonly #visits: Visits;
  readonly #urgent = new Set<PathText>();
  #walk: Walk | null = null;
  #nextWalk: { kind: WalkKind; waiting: Waiter[] } | null = null;
  #pass: { paths: PathText[]; at: number; kind: PassKind; lately: Set<PathText>; startedAt: number } | null = null;
  #nextPass: PassKind | null = null;
  readonly #doubts = new Doubts((dir, mtimeNs) => {
    if (!this.#visits.isAccounted(dir, mtimeNs)) this.readSoon(dir);
  });
  #working = false;
  #again: NodeJS.Timeout | undefined;
  #over = false;

  constructor(options: SurveyOptions) {
    this.#options = options;
    this.#visits = new Visits({ ...options, hasGone: () => this.#hasGone() });
  }

  /** Seconds that the last walk, the last pass took; `null` before the first one is through. */
  lastWalkSeconds: number | null = null;
  lastPassSeconds: number | null = null;

  get walking(): boolean {
    return this.#walk !== null || this.#nextWalk !== null;
  }

  get passing(): boolean {
    return this.#pass !== null || this.#nextPass !== null;
  }

  /** Reads every folder again; one that is under way does not count. Rejects when the root goes away meanwhile. */
  walk(kind: WalkKind = 'told'): Promise<void> {
    return new Promise((resolve, reject) => {
      if (this.#over) return reject(new Error('the folder is not there any more'));
      this.#nextWalk ??= { kind, waiting: [] };
      if (kind === 'told') this.#nextWalk.kind = kind;
      this.#nextWalk.waiting.push({ resolve, reject });
      this.#work();
    });
  }

  /** Looks at the time of every known folder and reads those that changed. */
  pass(kind: PassKind): void {
    if (this.#nextPass === null || WARIER.indexOf(kind) > WARIER.indexOf(this.#nextPass)) this.#nextPass = kind;
    this.#work();
  }

  /** Reads one folder as soon as possible, whatever is known of it. */
  readSoon(dir: PathText): void {
    this.#urgent.add(dir);
    this.#work();
  }

  /** A folder was seen that may be new. */
  seen(dir: PathText): void {
    if (this.#visits.staleSince(dir, false) === 'stale') this.readSoon(dir);
  }

  knows(dir: PathText): boolean {
    return this.#visits.folders.get(dir) !== undefined;
  }

  /** Whether this folder is being read just now: what events say of its names is to be looked at after that. */
  isReading(dir: PathText): boolean {
    return this.#visits.reading === dir;
  }

  drop(dir: PathText): void {
    this.#visits.drop(dir);
  }

  /** Events have told of all changes in this folder up to now. */
  account(dir: PathText): void {
    if (this.#options.trustEvents(dir)) this.#visits.account(dir);
  }

  close(): void {
    this.#over = true;
    clearTimeout(this.#again);
    this.#doubts.close();
    for (const { reject } of [...(this.#walk?.waiting ?? []), ...(this.#nextWalk?.waiting ?? [])]) {
      reject(new Error('the folder is not there any more'));
    }
    this.#walk = null;
    this.#nextWalk = null;
  }

  #work(): void {
    if (this.#working || this.#over) return;
    this.#working = true;
    inSlices(this.#steps()).then(
      () => {
        this.#working = false;
        if (this.#urgent.size > 0 || this.walking || this.passing) this.#work();
      },
      () => this.#beginAgain(),
    );
  }

  /** Nobody knows what was missed: every folder is read again, after a pause, so that a lasting fault costs little. */
  #beginAgain(): void {
    this.#visits.reading = null;
    this.#nextWalk = { kind: 'told', waiting: [...(this.#walk?.waiting ?? []), ...(this.#nextWalk?.waiting ?? [])] };
    this.#walk = null;
    this.#again = setTimeout(() => {
      this.#working = false;
      this.#work();
    }, AGAIN_MS);
  }

  *#steps(): Steps<void> {
    yield undefined;
    while (!this.#over) {
      yield this.#options.room();
      const [urgent] = this.#urgent;
      if (urgent !== undefined) {
        this.#urgent.delete(urgent);
        yield* this.#visit(urgent, 'told', false);
      } else if (this.#walk !== null) {
        yield* this.#walkOn(this.#walk);
      } else if (this.#nextWalk !== null) {
        this.#walk = this.#beginWalk(this.#nextWalk);
        this.#nextWalk = null;
      } else if (!(yield* this.#passOn())) {
        return;
      }
    }
  }

  #beginWalk({ kind, waiting }: { kind: WalkKind; waiting: Waiter[] }): Walk {
    const lately = kind === 'changed' ? this.#visits.folders.lately(this.#options.now()) : [];
    const stack = ['', ...lately.reverse()];
    return { kind, stack, early: new Set(lately), folders: 0, files: 0, startedAt: performance.now(), waiting };
  }

  *#walkOn(walk: Walk): Steps<void> {
    const dir = walk.stack.pop();
    if (dir === undefined) return this.#endWalk(walk);
    const early = walk.stack.length > 0 && walk.stack[0] === '' && walk.early.has(dir);
    if (!early && walk.early.delete(dir)) {
      for (const name of this.#visits.folders.get(dir)?.names ?? []) walk.stack.push(joinPath(dir, name));
      return;
    }
    const visited = yield* this.#visit(dir, walk.kind, true);
    if (visited === null || visited.dirs === null) return;
    walk.folders += 1;
    walk.files += visited.files;
    if (!early) for (const { path } of visited.dirs) walk.stack.push(path);
  }

  #endWalk(walk: Walk): void {
    this.lastWalkSeconds = (performance.now() - walk.startedAt) / 1000;
    this.#walk = null;
    const { folders, files } = walk;
    this.#options.emit({ type: 'swept', folders, files, seconds: this.lastWalkSeconds });
    for (const { resolve } of walk.waiting) resolve();
  }

  /** One step of a pass over the folders' times; false when there is nothing left to do. */
  *#passOn(): Steps<boolean> {
    const { folders } = this.#visits;
    if (this.#pass === null) {
      if (this.#nextPass === null) return false;
      const lately = this.#nextPass === 'lately' ? folders.lately(this.#options.now()) : [];
      const paths = [...lately, ...folders.paths()];
      this.#pass = { paths, at: 0, kind: this.#nextPass, lately: new Set(lately), startedAt: performance.now() };
      this.#nextPass = null;
    }
    const pass = this.#pass;
    if (pass.at < pass.lately.size) {
      yield* this.#visit(pass.paths[pass.at++] ?? '', 'changed', false);
      return true;
    }
    for (const dir of pass.paths.slice(pass.at, pass.at + LOOKS)) {
      pass.at += 1;
      if (this.knows(dir) && !pass.lately.has(dir)) this.#lookAt(dir, pass.kind);
      if (this.#urgent.size > 0) break;
    }
    if (pass.at >= pass.paths.length) {
      this.lastPassSeconds = (performance.now() - pass.startedAt) / 1000;
      this.#pass = null;
    }
    return true;
  }

  #lookAt(dir: PathText, kind: PassKind): void {
    const believes = kind === 'trusting' || (kind === 'wary' && this.#visits.wasReadLately(dir));
    const trusted = believes && this.#options.trustEvents(dir);
    const stale = this.#visits.staleSince(dir, trusted);
    if (stale === 'stale') this.#urgent.add(dir);
    else if (stale !== 'fresh') this.#doubts.add(dir, stale);
  }

  /** Visits a folder, and soon those that it leads to; a walk comes by the folders in it anyway. */
  *#visit(dir: PathText, kind: WalkKind, byWalk: boolean): Steps<Visited | null> {
    const visited = yield* this.#visits.visit(dir, kind === 'changed');
    if (visited === null || this.#over) return null;
    if (!byWalk || visited.dirs === null) for (const next of visited.next) this.#urgent.add(next);
    return visited;
  }

  /** The volume has gone: this survey ends here, so that no walk looks as if it had come through. */
  #hasGone(): boolean {
    if (!this.#over && this.#options.rootChanged()) this.close();
    return this.#over;
  }
}
