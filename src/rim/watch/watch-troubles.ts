import type { RootEvent } from '../../core/ports.ts';

const COLLECT_MS = 1000;

/** Codes that mean "no more watches": the user's limit of watches, of instances, of open files. */
const LIMIT = new Set(['ENOSPC', 'EMFILE', 'ENFILE']);
/** Said by the survey, which also says what cannot be read. */
const SAID_ELSEWHERE = new Set(['EACCES', 'EPERM', 'ENOENT', 'ENOTDIR']);

/** Gathers errors of the watcher into few words: a limit that is hit fails once for every folder of the tree. */
export class WatchTroubles {
  readonly #emit: (event: RootEvent) => void;
  readonly #look: () => void;
  #limit = 0;
  #others: string[] = [];
  #timer: NodeJS.Timeout | null = null;
  /** Some folders have no watch; only passes find what happens there. */
  unwatched = false;

  constructor(emit: (event: RootEvent) => void, look: () => void) {
    this.#emit = emit;
    this.#look = look;
  }

  add(error: NodeJS.ErrnoException): void {
    const code = error.code ?? '';
    if (SAID_ELSEWHERE.has(code)) return;
    if (LIMIT.has(code)) {
      this.#limit += 1;
      this.unwatched = true;
    } else {
      this.#others.push(error.message);
    }
    this.#timer ??= setTimeout(() => this.#tell(), COLLECT_MS);
  }

  close(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  #tell(): void {
    this.#timer = null;
    if (this.#limit > 0) {
      const detail =
        `${this.#limit} folders cannot be watched: the limit of fs.inotify.max_user_watches is used up. ` +
        'They are looked at from time to time instead. Raise it with: sudo sysctl fs.inotify.max_user_watches=524288';
      this.#emit({ type: 'trouble', kind: 'watch-limit', detail });
    }
    if (this.#others.length > 0) {
      const more = this.#others.length > 1 ? ` (and ${this.#others.length - 1} more)` : '';
      this.#emit({ type: 'trouble', kind: 'watch-error', detail: `${this.#others[0]}${more}` });
    }
    this.#limit = 0;
    this.#others = [];
    this.#look();
  }
}
