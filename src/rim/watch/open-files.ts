import type { FileStat, PathText } from '../../core/model.ts';
import { hasDescriptorFor, isWritable, type ProcFs, type WriterFound } from './writers.ts';

/** A file that a process was seen to have open for writing. */
interface OpenFile extends WriterFound {
  path: PathText;
  dev: bigint;
  ino: bigint;
  /** When its growth was told last. */
  toldAt: number;
  /** It changed since. */
  changed: boolean;
}

/** The writers are looked at so often: a close must be told within a quarter of a second. */
const LOOK_MS = 200;
/** Where processes have very many files open a look is dear, and is made less often, but still so often. */
const SELDOM_MS = 500;
/** Between two looks passes this many times what one took. */
const REST = 700;

/** So many descriptors are read again with each look: a number may stand for another file by now. All of them, where few are open. */
const READ_AGAIN = 6;

/** Growth is told of so many files at once, of all together, and so often: each telling wakes two processes. */
const TOLD_AT_ONCE = 10;
const TELL_MS = 1000;

export interface OpenFilesOptions {
  fs: ProcFs;
  /** These are to be looked at and told: they were closed, or have grown. */
  tell: (path: PathText) => void;
  now?: () => number;
}

/**
 * Files known to be open for writing, and by whom. To search all processes for writers is dear; to see whether the ones
 * that were found still stand is one look at each process, at the numbers of its open files. So a file that is open is
 * neither searched for nor read again, its growth is told seldom where many grow, and its close is told at once.
 *
 * A number that is closed and stands for another file before the next look is found out when it is read again: at once
 * where few files are open, in turns where there are many. Until then the file counts as open, which is the safe side.
 */
export class OpenFiles {
  readonly #options: OpenFilesOptions;
  readonly #now: () => number;
  readonly #files = new Map<PathText, OpenFile>();
  readonly #byProcess = new Map<string, Set<OpenFile>>();
  #timer: NodeJS.Timeout | null = null;
  #turn: Iterator<OpenFile> | null = null;
  #toldAt = Number.NEGATIVE_INFINITY;

  constructor(options: OpenFilesOptions) {
    this.#options = options;
    this.#now = options.now ?? (() => performance.now());
  }

  /** A search found this writer. */
  found({ path, dev, ino }: Pick<FileStat, 'path' | 'dev' | 'ino'>, writer: WriterFound): void {
    this.#forget(path);
    const file = { ...writer, path, dev, ino, toldAt: this.#now(), changed: false };
    this.#files.set(path, file);
    this.#byProcess.set(file.pid, (this.#byProcess.get(file.pid) ?? new Set()).add(file));
    this.#arm(LOOK_MS);
  }

  /** Whether the writer that was found still stood at the last look. */
  isOpen({ path, dev, ino }: Pick<FileStat, 'path' | 'dev' | 'ino'>): boolean {
    const known = this.#files.get(path);
    return known !== undefined && known.dev === dev && known.ino === ino;
  }

  /** Takes note that the content of this file changed. True: it is told later, or when it is closed. */
  defers(path: PathText): boolean {
    const file = this.#files.get(path);
    // One or two alone may be told as they grow.
    if (file === undefined || this.#files.size <= 2) return false;
    file.changed = true;
    return true;
  }

  /** What was found is on a root that is not there any more. */
  clear(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    this.#turn = null;
    this.#files.clear();
    this.#byProcess.clear();
  }

  #arm(afterMs: number): void {
    this.#timer ??= setTimeout(() => this.#look(), afterMs);
  }

  #look(): void {
    this.#timer = null;
    const began = this.#now();
    for (const [pid, files] of this.#byProcess) this.#lookAt(pid, files);
    this.#readAgain();
    this.#tellGrown(began);
    const took = this.#now() - began;
    if (this.#files.size > 0) this.#arm(Math.min(SELDOM_MS, Math.max(LOOK_MS, REST * took)));
  }

  #lookAt(pid: string, files: ReadonlySet<OpenFile>): void {
    let descriptors: ReadonlySet<string>;
    try {
      descriptors = new Set(this.#options.fs.readdirSync(`/proc/${pid}/fd`));
    } catch {
      // The process has ended, or is another user's by now: whoever asks searches anew.
      descriptors = new Set();
    }
    for (const file of files) if (!descriptors.has(file.descriptor)) this.#over(file);
  }

  #readAgain(): void {
    for (let read = 0; read < Math.min(READ_AGAIN, this.#files.size); read++) {
      this.#turn ??= this.#files.values();
      const next = this.#turn.next();
      if (next.done === true) {
        this.#turn = null;
        continue;
      }
      const { fs } = this.#options;
      if (!hasDescriptorFor(next.value, fs) || !isWritable(next.value, fs)) this.#over(next.value);
    }
  }

  #tellGrown(now: number): void {
    if (now - this.#toldAt < TELL_MS) return;
    this.#toldAt = now;
    const everyMs = (this.#files.size / TOLD_AT_ONCE) * TELL_MS;
    let most = TOLD_AT_ONCE;
    for (const file of this.#files.values()) {
      if (!file.changed || now - file.toldAt < everyMs) continue;
      file.changed = false;
      file.toldAt = now;
      this.#options.tell(file.path);
      most -= 1;
      if (most === 0) return;
    }
  }

  #over(file: OpenFile): void {
    this.#forget(file.path);
    this.#options.tell(file.path);
  }

  #forget(path: PathText): void {
    const file = this.#files.get(path);
    if (file === undefined) return;
    this.#files.delete(path);
    const others = this.#byProcess.get(file.pid);
    others?.delete(file);
    if (others?.size === 0) this.#byProcess.delete(file.pid);
  }
}
