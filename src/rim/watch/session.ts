import type { PathText } from '../../core/model.ts';
import type { RootEvent } from '../../core/ports.ts';
import type { WatchSettings } from './protocol.ts';
import type { FolderPlace, TreeFs } from './read-folder.ts';
import type { RootFound } from './root-check.ts';
import { Survey } from './survey.ts';
import { Touched } from './touched.ts';
import { type TreeWatch, watchTree } from './tree-watch.ts';
import { WatchTroubles } from './watch-troubles.ts';

export interface SessionOptions {
  fs: TreeFs;
  found: RootFound;
  settings: WatchSettings;
  skip: (path: PathText) => boolean;
  emit: (event: RootEvent) => void;
  room: () => Promise<void> | undefined;
  rootChanged: () => boolean;
}

/** Folder times say nothing of renames (FAT family) or of what others write in a file: here only full walks count. */
const WEAK_TIMES = new Set(['vfat', 'msdos', 'exfat', 'fuseblk']);
/** Such walks take at most this share of the time. */
const WALK_SHARE = 0.01;

/** More names than this in half a second: the kernel's queue of 16,384 events may have run over, which nothing tells. */
const BURST_NAMES = 4000;
const BURST_MS = 500;

/** A first walk that is not through by now gets the watch beside it. */
const WATCH_AFTER_MS = 2000;

/** Of so many passes one reads every folder that changed, whatever events have told. */
const DISTRUST_EVERY = 6;

/** The watching of one root while it is there and stays the same. A root that comes back gets a new one. */
export class Session {
  readonly #options: SessionOptions;
  readonly #survey: Survey;
  readonly #touched: Touched;
  readonly #troubles: WatchTroubles;
  #watch: TreeWatch | null = null;
  #timer: NodeJS.Timeout | undefined;
  #passes = 0;
  #passedAt = 0;
  #walkedAt = 0;
  #burst = { since: 0, names: 0 };
  #over = false;

  constructor(options: SessionOptions) {
    this.#options = options;
    const { fs, found, skip, rootChanged } = options;
    const place: FolderPlace = { fs, base: found.base, device: found.device, skip };
    const emit = (event: RootEvent): void => {
      if (!this.#over) options.emit(event);
    };
    this.#survey = new Survey({ place, emit, room: options.room, now: () => Date.now(), rootChanged });
    this.#troubles = new WatchTroubles(emit, () => this.#survey.pass(false));
    const trustEvents = () => this.#trusted;
    this.#touched = new Touched({ place, survey: this.#survey, emit, rootChanged, trustEvents });
  }

  /**
   * Reads first, which tells of the files soonest, and then watches: the package reads every folder once more and takes
   * several times as long. A tree that takes long to read is watched meanwhile. When all is watched, a pass finds what
   * fell in between.
   */
  start(): void {
    this.#passedAt = performance.now();
    // A root that goes away in the middle ends the walk; its return begins another.
    this.walk().then(
      () => this.#watchAll(),
      () => {},
    );
    this.#timer = setTimeout(() => this.#watchAll(), WATCH_AFTER_MS);
  }

  #watchAll(): void {
    if (this.#over || this.#watch !== null) return;
    const { found, skip } = this.#options;
    this.#watch = watchTree({
      base: found.base,
      device: found.device,
      skip,
      onTouched: (path) => this.#onTouched(path),
      onUnclear: (dir) => this.#survey.readSoon(dir),
      onReady: () => this.#survey.pass(false),
      onError: (error) => this.#troubles.add(error),
    });
  }

  /** Reads every folder again. */
  async walk(): Promise<void> {
    await this.#survey.walk();
    this.#walkedAt = performance.now();
  }

  /** Called about once a second: begins what is due. */
  tick(): void {
    if (this.#survey.walking || this.#survey.passing) return;
    const now = performance.now();
    if (now - this.#walkedAt >= this.#walkEvery() * 1000) {
      this.walk().catch(() => {});
    } else if (now - this.#passedAt >= this.#options.settings.sweepEvery * 1000) {
      this.#passedAt = now;
      this.#passes += 1;
      this.#survey.pass(this.#trusted && this.#passes % DISTRUST_EVERY !== 0);
    }
  }

  /** Events may have been lost: the loop stood still, or far too many came. */
  mistrust(): void {
    this.#survey.pass(false);
  }

  close(): void {
    this.#over = true;
    clearTimeout(this.#timer);
    this.#watch?.close();
    this.#touched.close();
    this.#troubles.close();
    this.#survey.close();
  }

  get #trusted(): boolean {
    return !this.#troubles.unwatched && this.#options.found.mount?.remote !== true;
  }

  #walkEvery(): number {
    const { settings, found } = this.#options;
    const weak = found.mount !== null && (found.mount.remote || WEAK_TIMES.has(found.mount.fileSystem));
    const seconds = this.#survey.lastWalkSeconds ?? 0;
    return weak ? Math.max(settings.sweepEvery, seconds / WALK_SHARE) : settings.fullSweepEvery;
  }

  #onTouched(path: PathText): void {
    this.#touched.add(path);
    const now = performance.now();
    if (now - this.#burst.since > BURST_MS) this.#burst = { since: now, names: 0 };
    this.#burst.names += 1;
    if (this.#burst.names > BURST_NAMES) {
      this.#burst = { since: now, names: 0 };
      this.mistrust();
    }
  }
}
