import { baseName, dirName, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import type { RootEvent } from '../../core/ports.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { Folders, needsReading } from './folders.ts';
import { type FolderContent, type FolderPlace, readFolder } from './read-folder.ts';
import { inSlices, type Steps } from './slices.ts';

export interface SurveyOptions {
  place: FolderPlace;
  emit: (event: RootEvent) => void;
  /** Waits until the other side has dealt with enough listings; `undefined`: go on. */
  room: () => Promise<void> | undefined;
  /** Wall clock, ms. */
  now: () => number;
  /** Something looked as if the volume had gone. True: it has, and this survey is over. */
  rootChanged: () => boolean;
}

/** Pause before everything is read again when the reading itself failed. */
const AGAIN_MS = 1000;

interface Walk {
  stack: PathText[];
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
  readonly #folders = new Folders();
  readonly #urgent = new Set<PathText>();
  readonly #told = new Set<PathText>();
  #walk: Walk | null = null;
  #nextWalk: Waiter[] | null = null;
  #pass: { paths: PathText[]; at: number; trustEvents: boolean } | null = null;
  #nextPass: { trustEvents: boolean } | null = null;
  #working = false;
  #again: NodeJS.Timeout | undefined;
  #over = false;

  constructor(options: SurveyOptions) {
    this.#options = options;
  }

  /** Seconds that the last full walk took; `null` before the first one is through. */
  lastWalkSeconds: number | null = null;

  get walking(): boolean {
    return this.#walk !== null || this.#nextWalk !== null;
  }

  get passing(): boolean {
    return this.#pass !== null || this.#nextPass !== null;
  }

  /** Reads every folder again; one that is under way does not count. Rejects when the root goes away meanwhile. */
  walk(): Promise<void> {
    return new Promise((resolve, reject) => {
      if (this.#over) return reject(new Error('the folder is not there any more'));
      this.#nextWalk ??= [];
      this.#nextWalk.push({ resolve, reject });
      this.#work();
    });
  }

  /** Looks at the time of every known folder and reads those that changed. */
  pass(trustEvents: boolean): void {
    if (this.#nextPass === null) this.#nextPass = { trustEvents };
    else this.#nextPass.trustEvents &&= trustEvents;
    this.#work();
  }

  /** Reads one folder as soon as possible, whatever is known of it. */
  readSoon(dir: PathText): void {
    this.#urgent.add(dir);
    this.#work();
  }

  /** A folder was seen that may be new. */
  seen(dir: PathText): void {
    if (this.#isStale(dir, false)) this.readSoon(dir);
  }

  knows(dir: PathText): boolean {
    return this.#folders.get(dir) !== undefined;
  }

  drop(dir: PathText): void {
    this.#folders.drop(dir);
  }

  /** Events have told of all changes in this folder up to now. */
  account(dir: PathText): void {
    const mark = this.#folders.get(dir);
    const stat = mark === undefined ? null : this.#stat(dir);
    if (mark !== undefined && stat !== null && stat.ino === mark.ino) mark.knownMtimeNs = stat.mtimeNs;
  }

  close(): void {
    this.#over = true;
    clearTimeout(this.#again);
    for (const { reject } of [...(this.#walk?.waiting ?? []), ...(this.#nextWalk ?? [])]) {
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
    this.#nextWalk = [...(this.#walk?.waiting ?? []), ...(this.#nextWalk ?? [])];
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
        yield* this.#visit(urgent, false);
      } else if (this.#walk !== null) {
        yield* this.#walkOn(this.#walk);
      } else if (this.#nextWalk !== null) {
        this.#walk = { stack: [''], folders: 0, files: 0, startedAt: performance.now(), waiting: this.#nextWalk };
        this.#nextWalk = null;
      } else if (!this.#passOn()) {
        return;
      }
    }
  }

  *#walkOn(walk: Walk): Steps<void> {
    const dir = walk.stack.pop();
    if (dir === undefined) {
      this.lastWalkSeconds = (performance.now() - walk.startedAt) / 1000;
      this.#walk = null;
      const { folders, files } = walk;
      this.#options.emit({ type: 'swept', folders, files, seconds: this.lastWalkSeconds });
      for (const { resolve } of walk.waiting) resolve();
      return;
    }
    const content = yield* this.#visit(dir, true);
    if (content === null) return;
    walk.folders += 1;
    walk.files += content.files.length;
    for (const { path } of content.dirs) walk.stack.push(path);
  }

  /** One step of a pass over the folders' times; false when there is nothing left to do. */
  #passOn(): boolean {
    if (this.#pass === null) {
      if (this.#nextPass === null) return false;
      this.#pass = { paths: this.#folders.paths(), at: 0, trustEvents: this.#nextPass.trustEvents };
      this.#nextPass = null;
    }
    const dir = this.#pass.paths[this.#pass.at];
    if (dir === undefined) this.#pass = null;
    else {
      this.#pass.at += 1;
      if (this.knows(dir) && this.#isStale(dir, this.#pass.trustEvents)) this.#urgent.add(dir);
    }
    return true;
  }

  /** Reads a folder, tells what is in it and sets the folders right below it. */
  *#visit(dir: PathText, byWalk: boolean): Steps<FolderContent | null> {
    const readAt = this.#options.now();
    const reading = yield* readFolder(this.#options.place, dir);
    if (this.#over) return null;
    if (reading.kind === 'missing' || reading.kind === 'replaced') {
      if (this.#hasGone()) return null;
      this.#folders.drop(dir);
      // What became of it is for the folder above to say.
      if (dir !== '') this.#urgent.add(dirName(dir));
      return null;
    }
    const looksEmpty = reading.kind === 'read' && reading.files.length + reading.dirs.length === 0;
    if (looksEmpty && this.#hasGone()) return null;
    const content = reading.kind === 'read' ? reading : nothingBut({ path: dir, error: reading.error });
    this.#tellForeign(content.foreign);
    this.#mark(dir, { ...reading, complete: content.unreadable.length === 0 }, readAt);
    if (reading.kind === 'read') this.#follow(dir, reading, byWalk);
    this.#options.emit({
      type: 'listing',
      dir,
      files: content.files,
      dirs: [...content.dirs.map(({ path }) => path), ...content.foreign],
      unreadable: content.unreadable,
    });
    return reading.kind === 'read' ? reading : null;
  }

  /** The volume has gone: this survey ends here, so that no walk looks as if it had come through. */
  #hasGone(): boolean {
    if (!this.#over && this.#options.rootChanged()) this.close();
    return this.#over;
  }

  #mark(dir: PathText, read: { ino: bigint; mtimeNs: bigint; complete: boolean }, readAt: number): void {
    const { ino, mtimeNs, complete } = read;
    if (this.#folders.get(dir)?.ino !== ino) this.#folders.drop(dir);
    const names = this.#folders.get(dir)?.names ?? new Set<PathText>();
    this.#folders.put(dir, { ino, readMtimeNs: mtimeNs, knownMtimeNs: mtimeNs, readAt, complete, names });
  }

  /** Takes notice of the folders in a folder; a walk comes by those it is told of anyway. */
  #follow(dir: PathText, content: FolderContent, byWalk: boolean): void {
    const names = this.#folders.get(dir)?.names ?? new Set<PathText>();
    const present = new Set(content.dirs.map(({ path }) => path));
    for (const name of names) {
      if (!present.has(joinPath(dir, name))) this.#folders.drop(joinPath(dir, name));
    }
    for (const { path, ino } of content.dirs) {
      names.add(baseName(path));
      if (!byWalk && this.#folders.get(path)?.ino !== ino) this.#urgent.add(path);
    }
  }

  #isStale(dir: PathText, trustEvents: boolean): boolean {
    const mark = this.#folders.get(dir);
    if (mark === undefined) return true;
    const stat = this.#stat(dir);
    return stat === null || needsReading(mark, stat, trustEvents) !== null;
  }

  #stat(dir: PathText): { ino: bigint; mtimeNs: bigint } | null {
    const { fs, base } = this.#options.place;
    try {
      return fs.lstatSync(toAbsolute(base, dir), { bigint: true });
    } catch {
      return null;
    }
  }

  /** A file system mounted below the root is not followed, which is said once. */
  #tellForeign(foreign: readonly PathText[]): void {
    for (const path of foreign) {
      if (this.#told.has(path)) continue;
      this.#told.add(path);
      const detail = `${path} is another file system, which is not followed; to watch it, name it as a volume of its own`;
      this.#options.emit({ type: 'trouble', kind: 'other-file-system', detail });
    }
  }
}

type Told = Pick<FolderContent, 'files' | 'dirs' | 'foreign' | 'unreadable'>;

function nothingBut(unreadable: { path: PathText; error: string }): Told {
  return { files: [], dirs: [], foreign: [], unreadable: [unreadable] };
}
