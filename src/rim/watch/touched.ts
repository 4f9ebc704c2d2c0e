import { dirName } from '../../core/intake/path-text.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { RootEvent } from '../../core/ports.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { toFileStat } from '../base/file-stat.ts';
import { type FolderPlace, isMissing } from './read-folder.ts';
import { inSlices, type Steps } from './slices.ts';
import type { Survey } from './survey.ts';

/** A path is told at most this often. */
const QUIET_MS = 100;
/** After a pause the first event is told this soon: long enough to take "created" and "written" together. */
const FIRST_MS = 10;
const BATCH = 500;

export interface TouchedOptions {
  place: FolderPlace;
  survey: Survey;
  emit: (event: RootEvent) => void;
  rootChanged: () => boolean;
  /** Whether events can be relied on to name everything that happens. */
  trustEvents: () => boolean;
}

/** Turns names that events told of into what is there now: files, folders to read, or gone. */
export class Touched {
  readonly #options: TouchedOptions;
  #paths = new Set<PathText>();
  #timer: NodeJS.Timeout | null = null;
  #flushedAt = Number.NEGATIVE_INFINITY;
  #flushing = false;
  #over = false;

  constructor(options: TouchedOptions) {
    this.#options = options;
  }

  add(path: PathText): void {
    this.#paths.add(path);
    this.#arm();
  }

  close(): void {
    this.#over = true;
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  #arm(): void {
    if (this.#timer !== null || this.#flushing || this.#over) return;
    const wait = Math.max(FIRST_MS, this.#flushedAt + QUIET_MS - performance.now());
    this.#timer = setTimeout(() => this.#flush(), wait);
  }

  #flush(): void {
    this.#timer = null;
    this.#flushing = true;
    this.#flushedAt = performance.now();
    const paths = this.#paths;
    this.#paths = new Set();
    void inSlices(this.#look(paths)).finally(() => {
      this.#flushing = false;
      if (this.#paths.size > 0) this.#arm();
    });
  }

  *#look(paths: Set<PathText>): Steps<void> {
    const gone = new Set<PathText>();
    const dirs = new Set<PathText>();
    let files: FileStat[] = [];
    for (const path of paths) {
      if (this.#over) return;
      const found = this.#lookAt(path, gone);
      dirs.add(dirName(path));
      if (found !== null) files.push(found);
      if (files.length >= BATCH) {
        this.#options.emit({ type: 'files', files });
        files = [];
      }
      yield undefined;
    }
    if (files.length > 0) this.#options.emit({ type: 'files', files });
    this.#tellGone(gone);
    if (this.#options.trustEvents()) for (const dir of dirs) this.#options.survey.account(dir);
  }

  #lookAt(path: PathText, gone: Set<PathText>): FileStat | null {
    const { place, survey } = this.#options;
    try {
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
    let missing = path;
    for (let dir = dirName(path); dir !== ''; dir = dirName(dir)) {
      if (place.fs.lstatSync(toAbsolute(place.base, dir), { throwIfNoEntry: false }) !== undefined) break;
      missing = dir;
    }
    return missing;
  }

  /** Never when the volume itself has gone: then nothing is known about its files. */
  #tellGone(gone: Set<PathText>): void {
    if (gone.size === 0 || this.#options.rootChanged() || this.#over) return;
    for (const path of gone) this.#options.survey.drop(path);
    const paths = [...gone];
    for (let at = 0; at < paths.length; at += BATCH) {
      this.#options.emit({ type: 'gone', paths: paths.slice(at, at + BATCH) });
    }
  }
}
