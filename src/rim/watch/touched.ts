import { dirName } from '../../core/intake/path-text.ts';
import { frameOf } from '../../core/intake/sequence.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { RootEvent } from '../../core/root-port.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { toFileStat } from '../base/file-stat.ts';
import { InsideRoot } from './inside-root.ts';
import { isMissing } from './missing-error.ts';
import type { FolderPlace } from './read-folder.ts';
import { inSlices, type Steps } from './slices.ts';
import { trustworthy } from './stamps.ts';
import type { Survey } from './survey.ts';

/** A path is told at most this often. */
const QUIET_MS = 100;
/** After a pause the first event is told this soon: long enough to take "created" and "written" together. */
const FIRST_MS = 10;
/** Frames of a sequence come many a second, and nobody waits for a single one: they are told at most this often. */
const FRAMES_MS = 1000;
const BATCH = 500;

export interface TouchedOptions {
  place: FolderPlace;
  survey: Survey;
  emit: (event: RootEvent) => void;
  rootChanged: () => boolean;
  /** Whether this file is known to be open for writing: its close will be told. */
  isOpen: (stat: FileStat) => boolean;
  /** A frame came: it is told later, with others. */
  deferred: () => void;
}

/** Turns names that events told of into what is there now: files, folders to read, or gone. */
export class Touched {
  readonly #options: TouchedOptions;
  #paths = new Set<PathText>();
  #frames = new Set<PathText>();
  #framesAt = Number.NEGATIVE_INFINITY;
  #timer: NodeJS.Timeout | null = null;
  #timerAt = Number.POSITIVE_INFINITY;
  #flushedAt = Number.NEGATIVE_INFINITY;
  #flushing = false;
  #over = false;

  constructor(options: TouchedOptions) {
    this.#options = options;
  }

  add(path: PathText): void {
    if (frameOf(path) === null) this.#paths.add(path);
    else {
      this.#frames.add(path);
      this.#options.deferred();
    }
    this.#arm();
  }

  close(): void {
    this.#over = true;
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  #arm(): void {
    if (this.#flushing || this.#over) return;
    const framesDue = this.#frames.size > 0 ? this.#framesAt + FRAMES_MS : Number.POSITIVE_INFINITY;
    const due = Math.max(this.#paths.size > 0 ? 0 : framesDue, this.#flushedAt + QUIET_MS);
    if (due >= this.#timerAt) return;
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timerAt = due;
    this.#timer = setTimeout(() => this.#flush(), Math.max(FIRST_MS, due - performance.now()));
  }

  #take(now: number): Set<PathText> {
    const paths = this.#paths;
    this.#paths = new Set();
    if (this.#frames.size === 0 || now < this.#framesAt + FRAMES_MS) return paths;
    for (const path of this.#frames) paths.add(path);
    this.#frames.clear();
    this.#framesAt = now;
    return paths;
  }

  #flush(): void {
    this.#timer = null;
    this.#timerAt = Number.POSITIVE_INFINITY;
    this.#flushing = true;
    this.#flushedAt = performance.now();
    const paths = this.#take(this.#flushedAt);
    inSlices(this.#look(paths))
      // What could not be looked at by its name is found by reading the folders.
      .catch(() => {
        for (const path of paths) if (!this.#over) this.#options.survey.readSoon(dirName(path));
      })
      .finally(() => {
        this.#flushing = false;
        if (this.#paths.size + this.#frames.size > 0) this.#arm();
      });
  }

  *#look(paths: Set<PathText>): Steps<void> {
    const gone = new Set<PathText>();
    const dirs = new Set<PathText>();
    const inside = new InsideRoot(this.#options.place);
    let files: FileStat[] = [];
    for (const path of paths) {
      if (this.#over) return;
      // What is read there is told when all is read: this must come after it, for it is newer.
      if (this.#options.survey.isReading(dirName(path))) {
        this.#paths.add(path);
        continue;
      }
      const found = this.#lookAt(path, inside, gone);
      dirs.add(dirName(path));
      if (found !== null) {
        if (isAtOrBelow(path, gone)) this.#tellGone(gone);
        files.push(trustworthy(found, this.#options.place.stamps));
      }
      if (files.length >= BATCH) {
        this.#tell(files);
        files = [];
      }
      yield undefined;
    }
    this.#tell(files);
    this.#tellGone(gone);
    for (const dir of dirs) this.#options.survey.account(dir);
  }

  #tell(files: readonly FileStat[]): void {
    const { emit, isOpen } = this.#options;
    const { open = [], others = [] } = Object.groupBy(files, (file) => (isOpen(file) ? 'open' : 'others'));
    if (others.length > 0) emit({ type: 'files', files: others });
    if (open.length > 0) emit({ type: 'files', files: open, open: true });
  }

  #lookAt(path: PathText, inside: InsideRoot, gone: Set<PathText>): FileStat | null {
    const { place, survey } = this.#options;
    try {
      if (!inside.seemsToReach(path)) {
        gone.add(this.#topmostMissing(path));
        return null;
      }
      const stat = place.fs.lstatSync(toAbsolute(place.base, path), { bigint: true });
      if (stat.isDirectory()) survey.seen(path);
      else if (survey.knows(path)) gone.add(path);
      return stat.isFile() ? toFileStat(path, stat) : null;
    } catch (thrown) {
      // Anything else is for the next reading of the folder to say.
      if (isMissing(thrown as NodeJS.ErrnoException)) gone.add(this.#topmostMissing(path));
      return null;
    }
  }

  /** A removed tree is told once, by its topmost folder. */
  #topmostMissing(path: PathText): PathText {
    const { place } = this.#options;
    const inside = new InsideRoot(place);
    let missing = path;
    try {
      for (let dir = dirName(path); dir !== ''; dir = dirName(dir)) {
        if (inside.seemsToReach(dir) && isThere(place, dir)) break;
        missing = dir;
      }
    } catch {
      // Nobody knows of the folders above this one.
    }
    return missing;
  }

  /** Tells these and empties the set. Never when the volume itself has gone: then nothing is known about its files. */
  #tellGone(gone: Set<PathText>): void {
    if (gone.size === 0 || this.#options.rootChanged() || this.#over) return;
    for (const path of gone) this.#options.survey.drop(path);
    const paths = [...gone];
    gone.clear();
    for (let at = 0; at < paths.length; at += BATCH) {
      this.#options.emit({ type: 'gone', paths: paths.slice(at, at + BATCH) });
    }
  }
}

/** Also a file is no folder any more: what was below it is missing. Throws what else the system says. */
function isThere({ fs, base }: FolderPlace, dir: PathText): boolean {
  try {
    return fs.lstatSync(toAbsolute(base, dir), { throwIfNoEntry: false }) !== undefined;
  } catch (thrown) {
    if (isMissing(thrown as NodeJS.ErrnoException)) return false;
    throw thrown;
  }
}

function isAtOrBelow(path: PathText, gone: ReadonlySet<PathText>): boolean {
  for (let at = path; gone.size > 0 && at !== ''; at = dirName(at)) if (gone.has(at)) return true;
  return false;
}
