import type { FileStat, PathText } from '../../core/model.ts';
import { eachFolder } from './each-folder.ts';
import { Flood } from './flood.ts';
import type { FolderWatch, OpenFolderWatch } from './folder-watch.ts';
import { Heartbeat } from './heartbeat.ts';
import type { ChildEvent } from './packing.ts';
import { duePoll, mustBePolled } from './polling.ts';
import type { WatchSettings } from './protocol.ts';
import type { FolderPlace, TreeFs } from './read-folder.ts';
import type { RootFound } from './root-check.ts';
import { Rounds } from './rounds.ts';
import { stampsOf } from './stamps.ts';
import { Survey, type WalkKind } from './survey.ts';
import { Suspects } from './suspects.ts';
import { Touched } from './touched.ts';
import { treeWatch } from './tree-watch.ts';
import { WatchTroubles } from './watch-troubles.ts';
import type { ProcFs } from './writers.ts';

export interface SessionOptions {
  fs: TreeFs & Pick<ProcFs, 'readFileSync'>;
  found: RootFound;
  settings: WatchSettings;
  skip: (path: PathText) => boolean;
  emit: (event: ChildEvent) => void;
  room: () => Promise<void> | undefined;
  rootChanged: () => boolean;
  /** What changed in this file is told later, by `tell`: it is open, and known to be. */
  defers: (path: PathText) => boolean;
  /** Whether this file is known to be open for writing. */
  isOpen: (stat: FileStat) => boolean;
  /** An event came that needs nothing done now. */
  deferred: () => void;
}

/** Linux watches folders, the others watch trees. */
const openFolderWatch: OpenFolderWatch = process.platform === 'linux' ? eachFolder : treeWatch;

/** Of so many passes one reads the folders that changed, whatever events have told; large ones more seldom. */
const WARY_EVERY = 6;

/** The watching of one root while it is there and stays the same. A root that comes back gets a new one. */
export class Session {
  readonly #options: SessionOptions;
  readonly #survey: Survey;
  readonly #touched: Touched;
  readonly #troubles: WatchTroubles;
  readonly #watch: FolderWatch;
  readonly #polled: boolean;
  readonly #heartbeat = new Heartbeat(() => this.mistrust());
  #passes = 0;
  #passedAt = 0;
  #walkedAt = 0;
  #toldAllAt = 0;
  readonly #flood: Flood;
  readonly #suspects = new Suspects((dir) => this.#survey.readSoon(dir));
  readonly #rounds = new Rounds();
  #over = false;

  constructor(options: SessionOptions) {
    this.#options = options;
    const { fs, found, skip, rootChanged } = options;
    const { base, device, mount } = found;
    const place: FolderPlace = { fs, base, device, skip, stamps: stampsOf(mount?.fileSystem) };
    const emit = (event: ChildEvent): void => {
      if (!this.#over) options.emit(event);
    };
    this.#polled = mustBePolled(found);
    this.#flood = new Flood(limitOf(fs, 'max_queued_events'));
    this.#troubles = new WatchTroubles({
      emit,
      walking: () => this.#survey.walking,
      now: () => performance.now(),
      look: () => this.#survey.pass('distrustful'),
      limit: (name) => limitOf(fs, name),
    });
    this.#watch = openFolderWatch(place, {
      touched: (path, contentOnly) => this.#onTouched(path, contentOnly),
      unclear: (dir) => this.#survey.readSoon(dir),
      failed: (dir, error) => this.#troubles.add(dir, error),
    });
    this.#survey = new Survey({
      place,
      watch: { watch: (dir) => this.#watchFolder(dir), unwatch: (dir) => this.#unwatchFolder(dir) },
      emit,
      digests: this.#polled,
      room: options.room,
      now: () => Date.now(),
      rootChanged,
      trustEvents: (dir) => mount?.remote !== true && !this.#troubles.unwatched.has(dir),
    });
    const { isOpen, deferred } = options;
    this.#touched = new Touched({ place, survey: this.#survey, emit, rootChanged, isOpen, deferred });
  }

  /** Reads everything, each folder as soon as it is watched. A root that goes away in the middle ends that. */
  start(): void {
    this.#passedAt = performance.now();
    this.walk().catch(() => {});
  }

  /** Reads every folder again. */
  async walk(kind: WalkKind = 'told'): Promise<void> {
    await this.#survey.walk(kind);
    this.#walkedAt = performance.now();
    if (kind === 'told') this.#toldAllAt = this.#walkedAt;
  }

  /** Called every few seconds: begins what is due. */
  tick(): void {
    if (this.#survey.walking || this.#survey.passing) return;
    const now = performance.now();
    for (const dir of this.#rounds.next(this.#troubles.unwatched, now)) this.#survey.readSoon(dir);
    const { sweepEvery, fullSweepEvery } = this.#options.settings;
    const tellAll = now - this.#toldAllAt >= fullSweepEvery * 1000;
    if (this.#polled) this.#pollOn(now, tellAll);
    else if (tellAll) this.walk().catch(() => {});
    else if (now - this.#passedAt >= sweepEvery * 1000) {
      this.#passedAt = now;
      this.#passes += 1;
      this.#survey.pass(this.#passes % WARY_EVERY === 0 ? 'wary' : 'trusting');
      this.#watchAgain();
    }
  }

  /** Events may have been lost: the loop stood still, or far too many came. */
  mistrust(): void {
    this.#survey.pass('distrustful');
    this.#suspects.mistrust(performance.now());
  }

  close(): void {
    this.#over = true;
    this.#watch.close();
    this.#heartbeat.close();
    this.#suspects.close();
    this.#touched.close();
    this.#troubles.close();
    this.#survey.close();
  }

  #pollOn(now: number, tellAll: boolean): void {
    const took = this.#survey.lastWalkSeconds;
    if (took === null) return;
    const passTook = this.#survey.lastPassSeconds;
    const due = duePoll(now / 1000, {
      walked: { at: this.#walkedAt / 1000, took },
      passed: passTook === null ? null : { at: this.#passedAt / 1000, took: passTook },
    });
    if (due === 'walk') this.walk(tellAll ? 'told' : 'changed').catch(() => {});
    if (due !== 'pass') return;
    this.#passedAt = now;
    this.#survey.pass('lately');
    this.#watchAgain();
  }

  #watchFolder(dir: PathText): Promise<void> | undefined {
    const { failures } = this.#troubles;
    const through = this.#watch.watch(dir);
    if (this.#troubles.failures === failures) this.#troubles.over(dir);
    return through;
  }

  #unwatchFolder(dir: PathText): void {
    this.#troubles.over(dir);
    this.#watch.unwatch(dir);
  }

  /** Tries whether one more folder can be watched by now; then all are tried, and read. */
  #watchAgain(): void {
    const { unwatched } = this.#troubles;
    const [first] = unwatched;
    if (first === undefined) return;
    const waiting = [...unwatched];
    void this.#watchFolder(first);
    if (!unwatched.has(first)) for (const dir of waiting) this.#survey.readSoon(dir);
  }

  /** Looks at this path and tells what is there. */
  tell(path: PathText): void {
    if (!this.#over) this.#touched.add(path);
  }

  #onTouched(path: PathText, contentOnly: boolean): void {
    if (!(contentOnly && this.#options.defers(path)) && !this.#options.skip(path)) this.#touched.add(path);
    const now = performance.now();
    this.#heartbeat.event(now);
    this.#suspects.event(path, now);
    if (this.#flood.event(now)) this.mistrust();
  }
}

function limitOf(fs: Pick<ProcFs, 'readFileSync'>, name: string): number | null {
  try {
    return Number(fs.readFileSync(`/proc/sys/fs/inotify/${name}`, 'utf8'));
  } catch {
    return null;
  }
}
