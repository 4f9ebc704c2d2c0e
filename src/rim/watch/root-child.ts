import * as nodeFs from 'node:fs';
import { messageOf } from '../../core/fault.ts';
import type { FileStat, PathText, Space } from '../../core/model.ts';
import type { Evidence, ProbeOutcome, RootEvent, RootState } from '../../core/ports.ts';
import { type InspectFs, inspect } from './inspect.ts';
import { packEvent } from './packing.ts';
import type { ChildChannel, Request, ToChild, WatchSettings } from './protocol.ts';
import type { TreeFs } from './read-folder.ts';
import { judgeRoot, lookAtRoot, type MountView, type RootFound, type RootFs } from './root-check.ts';
import { Session } from './session.ts';
import { inSlices } from './slices.ts';
import type { ProcFs } from './writers.ts';

export interface ServeOptions {
  /** Absolute path of the watched tree. */
  root: string;
  settings: WatchSettings;
  channel: ChildChannel;
  /** Reads a clip's facts; gets the absolute folder that the file's path is relative to. */
  probe: (file: FileStat, root: string) => Promise<ProbeOutcome>;
  /** The mount of an absolute path, and the room on it (rim/volume). */
  mountOf: (path: string) => MountView | null;
  space: (path: string) => Space;
  /** Mount point the root is known to lie on, `null` when not known. */
  mountPoint?: string | null;
  /** What is neither counted nor watched. */
  skip: (path: PathText) => boolean;
  fs?: TreeFs & RootFs & InspectFs & ProcFs;
}

const CHECK_MS = 1000;
const LAG_TICK_MS = 50;
const LAG_MS = 250;
/** Listings on their way that the daemon has not dealt with. */
const LISTINGS_AHEAD = 32;
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
  readonly #fs: TreeFs & RootFs & InspectFs & ProcFs;
  readonly #skip: (path: PathText) => boolean;
  readonly #timers: NodeJS.Timeout[] = [];
  #state: RootState = 'starting';
  #stateDetail: string | null = null;
  #mountPoint: string | null;
  #found: RootFound | null = null;
  #session: Session | null = null;
  #ahead = 0;
  #waiting: { done: Promise<void>; go: () => void } | null = null;
  #suspect = false;

  constructor(options: ServeOptions) {
    this.#options = options;
    this.#fs = options.fs ?? (nodeFs as TreeFs & RootFs & InspectFs & ProcFs);
    this.#skip = options.skip;
    this.#mountPoint = options.mountPoint ?? null;
  }

  receive(message: ToChild): void {
    if (message.type === 'start') this.#start();
    else if (message.type === 'stop') this.stop();
    else if (message.type === 'taken') this.#taken();
    else if (message.type === 'ping') this.#options.channel.send({ type: 'pong' });
    else this.#answer(message.id, this.#work(message));
  }

  stop(): void {
    for (const timer of this.#timers.splice(0)) clearInterval(timer);
    this.#session?.close();
    this.#session = null;
    this.#waiting?.go();
  }

  #start(): void {
    if (this.#timers.length > 0) return;
    this.#timers.push(setInterval(() => this.#onSecond(), CHECK_MS));
    let last = performance.now();
    const onTick = (): void => {
      const now = performance.now();
      if (now - last > LAG_TICK_MS + LAG_MS) this.#session?.mistrust();
      last = now;
    };
    this.#timers.push(setInterval(onTick, LAG_TICK_MS));
    this.#check();
  }

  #onSecond(): void {
    this.#check();
    this.#session?.tick();
  }

  /** Looks where the root is and acts on what has become of it. */
  #check(): void {
    const { root, mountOf } = this.#options;
    // What seemed to have changed for a moment has ended the session, so it begins anew even if all is as before.
    const watched = this.#suspect ? null : this.#found;
    this.#suspect = false;
    const verdict = judgeRoot(lookAtRoot(this.#fs, root, mountOf), watched, this.#mountPoint);
    if (verdict.is === 'same') return;
    this.#session?.close();
    this.#session = null;
    this.#found = null;
    if (verdict.is === 'absent') this.#setState('absent', verdict.detail);
    else this.#begin(verdict.root);
  }

  #begin(found: RootFound): void {
    this.#found = found;
    this.#mountPoint = found.mount?.mountPoint ?? null;
    this.#options.channel.send({ type: 'mounted', mountPoint: this.#mountPoint });
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
    });
    this.#session.start();
  }

  /** Asked in the middle of other work: only looks, and has the consequences drawn in the next turn. */
  #rootChanged(): boolean {
    const { root, mountOf } = this.#options;
    const changed = judgeRoot(lookAtRoot(this.#fs, root, mountOf), this.#found, this.#mountPoint).is !== 'same';
    if (changed && !this.#suspect) {
      this.#suspect = true;
      setImmediate(() => {
        if (this.#timers.length > 0) this.#check();
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

  #emit(event: RootEvent): void {
    if (event.type === 'listing') this.#ahead += 1;
    this.#options.channel.send({ type: 'event', event: packEvent(event) });
  }

  #room(): Promise<void> | undefined {
    if (this.#ahead < LISTINGS_AHEAD) return undefined;
    if (this.#waiting === null) {
      const { promise, resolve } = Promise.withResolvers<void>();
      this.#waiting = { done: promise, go: resolve };
    }
    return this.#waiting.done;
  }

  #taken(): void {
    this.#ahead = Math.max(0, this.#ahead - 1);
    if (this.#ahead >= LISTINGS_AHEAD) return;
    this.#waiting?.go();
    this.#waiting = null;
  }

  #answer(id: number, answer: Promise<unknown>): void {
    const { channel } = this.#options;
    answer.then(
      (value) => channel.send({ type: 'answer', id, value }),
      (error: unknown) => channel.send({ type: 'failed', id, message: messageOf(error) }),
    );
  }

  #work(message: Request): Promise<unknown> {
    switch (message.type) {
      case 'inspect':
        return this.#inspect(message.paths);
      case 'probe':
        return this.#probe(message.file);
      case 'space':
        return this.#space();
      case 'sweep':
        return this.#sweep();
    }
  }

  /** A root that goes away meanwhile makes every file look gone or unreadable: then nothing was found out of any. */
  async #inspect(paths: PathText[]): Promise<Evidence[]> {
    const found = this.#found;
    if (found === null || this.#rootChanged()) throw this.#notThere();
    const evidence = await inSlices(
      inspect(paths, {
        fs: this.#fs,
        proc: this.#fs,
        base: found.base,
        remote: found.mount?.remote ?? false,
        uid: process.geteuid?.() ?? 0,
        pid: process.pid,
      }),
    );
    if (this.#found !== found || this.#rootChanged()) throw this.#notThere();
    return evidence;
  }

  async #probe(file: FileStat): Promise<ProbeOutcome> {
    const found = this.#found;
    if (found === null || this.#rootChanged()) throw this.#notThere();
    const outcome = await this.#options.probe(file, found.base);
    if (!outcome.ok && (this.#found !== found || this.#rootChanged())) throw this.#notThere();
    return outcome;
  }

  async #space(): Promise<Space> {
    if (this.#found === null || this.#rootChanged()) throw this.#notThere();
    return this.#options.space(this.#found.base);
  }

  async #sweep(): Promise<void> {
    if (this.#session === null) throw this.#notThere();
    await this.#session.walk();
  }

  #notThere(): Error {
    return new Error(this.#stateDetail ?? GONE_WORDS);
  }
}
