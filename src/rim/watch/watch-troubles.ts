import type { PathText } from '../../core/model.ts';
import type { RootEvent, WatchLimit } from '../../core/root-port.ts';

/** Told when no further folder failed for so long: a tree of any size is one sentence. */
const QUIET_MS = 1000;
/** A limit that is used up is told of at most so often, however many folders more it leaves without a watch. */
const LIMIT_MS = 3_600_000;

/** "No more watches", "no more watching processes": the limits of the user, inotify(7). */
const LIMITS: Partial<Record<string, { name: string; least: number }>> = {
  ENOSPC: { name: 'max_user_watches', least: 524_288 },
  EMFILE: { name: 'max_user_instances', least: 512 },
};
/** Said by the survey, which also says what cannot be read. */
const SAID_ELSEWHERE = new Set(['EACCES', 'EPERM', 'ENOENT', 'ENOTDIR', 'ELOOP']);

export interface TroubleOptions {
  emit: (event: RootEvent) => void;
  /** The tree is being walked: how many folders cannot be watched shows at the end of that. */
  walking: () => boolean;
  /** Monotonic, ms. */
  now: () => number;
  /** Looks at every folder: nobody knows what was missed. */
  look: () => void;
  /** The limit of this name in /proc/sys/fs/inotify, `null` when it cannot be read. */
  limit: (name: string) => number | null;
}

/** Gathers errors of the watch into few words, and knows the folders that have none. */
export class WatchTroubles {
  readonly #options: TroubleOptions;
  readonly #unwatched = new Set<PathText>();
  #code = '';
  /** As many were told to be without a watch; told again only when they have become twice as many. */
  #toldOf = 0;
  /** Of how many without a watch it is known outside; 0: of none. */
  #knownOf = 0;
  /** When each limit was last told of. */
  readonly #toldAt = new Map<string, number>();
  #others: string[] = [];
  #timer: NodeJS.Timeout | null = null;

  constructor(options: TroubleOptions) {
    this.#options = options;
  }

  /** How many times anything failed. */
  failures = 0;

  /** Folders that the limit left without a watch: only passes find what happens there. */
  get unwatched(): ReadonlySet<PathText> {
    return this.#unwatched;
  }

  add(dir: PathText, error: NodeJS.ErrnoException): void {
    const code = error.code ?? '';
    this.failures += 1;
    if (SAID_ELSEWHERE.has(code)) return;
    if (LIMITS[code] === undefined) this.#others.push(error.message);
    else {
      this.#unwatched.add(dir);
      this.#code = code;
    }
    if (this.#timer === null) this.#timer = setTimeout(() => this.#tell(), QUIET_MS);
    else this.#timer.refresh();
  }

  /** The folder is watched again, or not to be watched any more. */
  over(dir: PathText): void {
    if (!this.#unwatched.delete(dir) || this.#unwatched.size > 0) return;
    this.#toldOf = 0;
    if (this.#knownOf > 0) this.#options.emit({ type: 'watch-limit', limit: null });
    this.#knownOf = 0;
  }

  close(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  #tell(): void {
    this.#timer = null;
    const others = this.#others;
    this.#others = [];
    const limited = this.#tellLimit();
    if (others.length > 0) {
      const more = others.length > 1 ? ` (and ${others.length - 1} more)` : '';
      this.#options.emit({ type: 'trouble', kind: 'watch-error', detail: `${others[0]}${more}` });
    }
    if (limited || others.length > 0) this.#options.look();
  }

  /** Whether it was told. */
  #tellLimit(): boolean {
    const count = this.#unwatched.size;
    if (count === 0) return false;
    if (this.#options.walking()) {
      this.#timer = setTimeout(() => this.#tell(), QUIET_MS);
      return false;
    }
    const limit = this.#limit(count);
    if (count !== this.#knownOf) this.#options.emit({ type: 'watch-limit', limit });
    this.#knownOf = count;
    if (count < this.#toldOf * 2) return false;
    const now = this.#options.now();
    if (now - (this.#toldAt.get(this.#code) ?? Number.NEGATIVE_INFINITY) < LIMIT_MS) return false;
    this.#toldOf = count;
    this.#toldAt.set(this.#code, now);
    this.#options.emit({ type: 'trouble', kind: 'watch-limit', detail: limitReached(limit) });
    return true;
  }

  #limit(folders: number): WatchLimit {
    const { name, least } = LIMITS[this.#code] ?? { name: 'max_user_watches', least: 524_288 };
    return { name, folders, wanted: Math.max(least, (this.#options.limit(name) ?? 0) * 2) };
  }
}

function limitReached({ name, folders, wanted }: WatchLimit): string {
  return (
    `${folders === 1 ? '1 folder' : `${folders} folders`} cannot be watched: the limit of fs.inotify.${name} is used up. ` +
    `Until it is higher they are looked at from time to time. Raise it with: sudo sysctl fs.inotify.${name}=${wanted}`
  );
}
