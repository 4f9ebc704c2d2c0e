import * as nodeFs from 'node:fs';
import { messageOf } from '../../core/fault.ts';
import type { PathText } from '../../core/model.ts';
import type { RootState } from '../../core/root-port.ts';
import { SpareMemory } from '../base/spare-memory.ts';
import { Answers, type Readers } from './answers.ts';
import { type DriveIdentity, identifyDrive, type KnownMount, knownTogether } from './drive.ts';
import { Gathering } from './gathering.ts';
import type { InspectFs } from './inspect.ts';
import { OpenFiles } from './open-files.ts';
import { type ChildEvent, packEvent } from './packing.ts';
import type { ChildChannel, ToChild, WatchSettings } from './protocol.ts';
import type { TreeFs } from './read-folder.ts';
import { judgeRoot, lookAtRoot, type MountView, type RootFound, type RootFs, type RootVerdict } from './root-check.ts';
import { Session } from './session.ts';
import type { ProcFs } from './writers.ts';

/** All file access of a root's process. */
export type ServeFs = TreeFs & RootFs & InspectFs & ProcFs;

export interface ServeOptions extends Readers {
  /** Absolute path of the watched tree. */
  root: string;
  settings: WatchSettings;
  channel: ChildChannel;
  /** The mount of an absolute path (rim/volume). */
  mountOf: (path: string) => MountView | null;
  /** Mount point the root is known to lie on, `null` when not known. */
  mountPoint?: string | null;
  /** What is known of the drive there. */
  drive?: DriveIdentity | null;
  /** What is neither counted nor watched. */
  skip: (path: PathText) => boolean;
  fs?: ServeFs;
}

/** Where the root is, is looked at this often while it is there; while it is not, it is looked for more often. */
const CHECK_MS = 2500;
const LOOK_FOR_MS = 1000;
/** A look that came so much too late: the loop stood still. */
const LAG_MS = 250;
/** A question of the daemon that comes this shortly before the next look brings it forward: both wake the process once. */
const SOON_MS = 750;
/** Listings, and parts of such, on their way that the daemon has not dealt with. */
const AHEAD = 32;
/** So long after a walk, for what it told to be on its way. */
const AFTER_WALK_MS = 2000;
const GONE_WORDS = 'the volume is not there';

/**
 * Serves one root in its own process: watches it, tells what happens over the channel and answers its requests. All
 * path I/O on the root happens here, so that a mount that hangs takes this process along and nothing else. Returns at
 * once; the returned function ends it.
 */
export function serveRoot(options: ServeOptions): () => void {
  const server = new RootServer(options);
  options.channel.onMessage((message) => server.receive(message));
  options.channel.onClose(() => server.stop());
  return () => server.stop();
}

class RootServer {
  readonly #options: ServeOptions;
  readonly #fs: ServeFs;
  readonly #skip: (path: PathText) => boolean;
  readonly #answers: Answers;
  readonly #openFiles: OpenFiles;
  readonly #gathering = new Gathering({ isBusy: () => this.#asked > 0 || this.#ahead > 0 });
  readonly #memory = new SpareMemory(AFTER_WALK_MS);
  #state: RootState = 'starting';
  #stateDetail: string | null = null;
  #known: KnownMount;
  #found: RootFound | null = null;
  #session: Session | null = null;
  #ahead = 0;
  /** Questions that are not answered yet. */
  #asked = 0;
  /** The next look at where the root is; `null`: not started, or stopped. */
  #timer: NodeJS.Timeout | null = null;
  #dueAt = 0;
  #waiting: { done: Promise<void>; go: () => void } | null = null;
  #suspect = false;

  constructor(options: ServeOptions) {
    this.#options = options;
    this.#fs = options.fs ?? (nodeFs as ServeFs);
    this.#skip = options.skip;
    this.#known = { mountPoint: options.mountPoint ?? null, drive: options.drive ?? null };
    this.#openFiles = new OpenFiles({ fs: this.#fs, tell: (path) => this.#session?.tell(path) });
    this.#answers = new Answers({
      ...options,
      fs: this.#fs,
      found: () => this.#found,
      rootChanged: () => this.#rootChanged(),
      whyAway: () => this.#stateDetail ?? GONE_WORDS,
      walk: async () => this.#session?.walk(),
      openFiles: this.#openFiles,
    });
  }

  receive(message: ToChild): void {
    if (message.type === 'start') this.#start();
    else if (message.type === 'stop') this.stop();
    else if (message.type === 'taken') this.#taken();
    else if (message.type === 'ping') this.#pinged();
    else this.#answer(message.id, this.#answers.to(message));
  }

  stop(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    this.#session?.close();
    this.#session = null;
    this.#openFiles.clear();
    this.#memory.close();
    this.#waiting?.go();
  }

  #start(): void {
    if (this.#timer !== null) return;
    this.#check();
    this.#plan();
  }

  #plan(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    const wait = this.#session === null ? LOOK_FOR_MS : CHECK_MS;
    this.#dueAt = performance.now() + wait;
    this.#timer = setTimeout(() => this.#onDue(), wait);
  }

  #pinged(): void {
    this.#options.channel.send({ type: 'pong' });
    if (this.#timer !== null && this.#dueAt - performance.now() < SOON_MS) this.#onDue();
  }

  #onDue(): void {
    if (performance.now() - this.#dueAt > LAG_MS) this.#session?.mistrust();
    this.#check();
    this.#session?.tick();
    this.#plan();
  }

  /** Looks where the root is and acts on what has become of it. */
  #check(): void {
    // What seemed to have changed for a moment has ended the session, so it begins anew even if all is as before.
    const watched = this.#suspect ? null : this.#found;
    this.#suspect = false;
    const verdict = this.#judge(watched);
    if (verdict.is === 'same') return;
    this.#session?.close();
    this.#session = null;
    this.#openFiles.clear();
    this.#found = null;
    if (verdict.is === 'absent') this.#setState('absent', verdict.detail);
    else this.#begin(verdict.root, verdict.drive);
  }

  #judge(watched: RootFound | null): RootVerdict {
    const { root, mountOf } = this.#options;
    const look = lookAtRoot(this.#fs, root, mountOf, watched);
    return judgeRoot(look, watched, this.#known, (mount) => identifyDrive(this.#fs, mount));
  }

  #begin(found: RootFound, drive: DriveIdentity | null): void {
    this.#found = found;
    const mountPoint = found.mount?.mountPoint ?? null;
    const before = mountPoint === this.#known.mountPoint ? this.#known.drive : null;
    this.#known = { mountPoint, drive: knownTogether(before, drive) };
    this.#options.channel.send({ type: 'mounted', ...this.#known });
    this.#state = 'starting';
    this.#setState('live', null);
    this.#session = new Session({
      fs: this.#fs,
      found,
      settings: this.#options.settings,
      skip: this.#skip,
      emit: (event) => this.#emit(event),
      room: () => this.#room(),
      rootChanged: () => this.#rootChanged(),
      defers: (path) => this.#defers(path),
      isOpen: (stat) => this.#openFiles.isOpen(stat),
      deferred: () => this.#gathering.came(),
    });
    this.#session.start();
  }

  #defers(path: PathText): boolean {
    const deferred = this.#openFiles.defers(path);
    if (deferred) this.#gathering.came();
    return deferred;
  }

  /** Asked in the middle of other work: only looks, and has the consequences drawn in the next turn. */
  #rootChanged(): boolean {
    const changed = this.#judge(this.#found).is !== 'same';
    if (changed && !this.#suspect) {
      this.#suspect = true;
      setImmediate(() => {
        if (this.#timer === null) return;
        this.#check();
        this.#plan();
      });
    }
    return changed;
  }

  #setState(state: RootState, detail: string | null): void {
    if (this.#state === state && this.#stateDetail === detail) return;
    this.#state = state;
    this.#stateDetail = detail;
    this.#emit({ type: 'state', state, detail });
  }

  #emit(event: ChildEvent): void {
    if (event.type === 'listing' || event.type === 'part') this.#ahead += 1;
    if (event.type === 'swept') this.#memory.worked(event.files);
    this.#options.channel.send({ type: 'event', event: packEvent(event) });
  }

  #room(): Promise<void> | undefined {
    if (this.#ahead < AHEAD) return undefined;
    if (this.#waiting === null) {
      const { promise, resolve } = Promise.withResolvers<void>();
      this.#waiting = { done: promise, go: resolve };
    }
    return this.#waiting.done;
  }

  #taken(): void {
    this.#ahead = Math.max(0, this.#ahead - 1);
    if (this.#ahead >= AHEAD) return;
    this.#waiting?.go();
    this.#waiting = null;
  }

  #answer(id: number, answer: Promise<unknown>): void {
    const { channel } = this.#options;
    this.#asked += 1;
    answer.finally(() => (this.#asked -= 1)).catch(() => {});
    answer.then(
      (value) => channel.send({ type: 'answer', id, value }),
      (error: unknown) => channel.send({ type: 'failed', id, message: messageOf(error) }),
    );
  }
}
