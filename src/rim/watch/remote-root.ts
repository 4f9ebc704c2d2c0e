import { messageOf } from '../../core/fault.ts';
import type { ScopeSettings } from '../../core/intake/scope.ts';
import type { FileStat, PathText, Space } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type {
  ContentOutcome,
  Evidence,
  ManifestOutcome,
  ProbeOutcome,
  RootEvent,
  RootPort,
} from '../../core/root-port.ts';
import { onNextBeat } from '../../core/together.ts';
import type { KnownMount } from './drive.ts';
import { Inbox, type Told } from './inbox.ts';
import { type PackedManifest, unpackManifest } from './packing.ts';
import { Pending } from './pending.ts';
import { ProbeGuard } from './probe-guard.ts';
import { encodeArguments, type Request, type WatchSettings } from './protocol.ts';
import { type RootProcess, type StartProcess, startProcess } from './root-process.ts';
import { inSlices } from './slices.ts';

export interface RemoteRootOptions {
  /** Absolute path of the watched tree. */
  root: string;
  settings: WatchSettings;
  /** What of the root is looked at; everything but system names when left out. */
  scope?: ScopeSettings;
  /** The program of the root's process: a `.ts` file that calls `serveRoot` with `processChannel()`. */
  entry: string;
  clock: Clock;
  log: Log;
  /** Mount and drive that the root is known to lie on: without them the root is absent. */
  known?: KnownMount;
  /** Called when it is found where the root is mounted; worth keeping for the next start. */
  onMounted?: (known: KnownMount) => void;
  /** Called with every sign of life of its process. */
  heard?: () => void;
  /** Seconds without an answer after which the process is given up (10). */
  hungAfter?: number;
  startProcess?: StartProcess;
}

const EVERYTHING: ScopeSettings = { ingest: [], ignore: [] };
const HUNG_AFTER = 10;
const STOP_MS = 1500;
const FIRST_PAUSE_MS = 500;
const LONGEST_PAUSE_MS = 60_000;
/** A process that lived this long was not stillborn: the next pause is the shortest again. */
const SOUND_MS = 60_000;
/** Processes that hang on a dead mount and cannot be killed. With so many of them, no further one is sent after them. */
const MOST_ABANDONED = 2;

type WithoutId<T> = T extends { id: number } ? Omit<T, 'id'> : never;

export interface RemoteRoot extends RootPort {
  /** The process that serves the root now; for diagnosis. */
  readonly pid: number | null;
}

/**
 * A root behind a process of its own. A process that gives no sign of life is abandoned and another tried; one that ends
 * is started again. After each start the events begin anew: a state, listings of every folder, `swept`.
 *
 * A listener that returns a promise slows the sweep down to its own pace.
 */
export const remoteRoot = (options: RemoteRootOptions): RemoteRoot => new ProcessRoot(options);

class ProcessRoot implements RemoteRoot {
  readonly #options: RemoteRootOptions;
  readonly #pending = new Pending();
  readonly #guard = new ProbeGuard();
  #onEvent: ((event: RootEvent) => void | Promise<void>) | null = null;
  #process: RootProcess | null = null;
  #inbox: Inbox | null = null;
  #known: KnownMount;
  #heardAt = 0;
  #startedAt = 0;
  #pauseMs = FIRST_PAUSE_MS;
  readonly #abandoned = new Set<RootProcess>();
  #why = 'it is not started';
  #cancelRestart: (() => void) | null = null;
  #cancelWatchdog: (() => void) | null = null;
  #stopping = false;

  constructor(options: RemoteRootOptions) {
    this.#options = options;
    this.#known = options.known ?? { mountPoint: null, drive: null };
  }

  get pid(): number | null {
    return this.#process?.pid ?? null;
  }

  start(onEvent: (event: RootEvent) => void | Promise<void>): void {
    if (this.#onEvent !== null || this.#stopping) return;
    this.#onEvent = onEvent;
    void this.#emit({ type: 'state', state: 'starting', detail: null });
    this.#launch();
  }

  inspect(paths: PathText[]): Promise<Evidence[]> {
    return this.#request<Evidence[]>({ type: 'inspect', paths });
  }

  probe(file: FileStat): Promise<ProbeOutcome> {
    return this.#guard.ask(file, () => this.#request<ProbeOutcome>({ type: 'probe', file }));
  }

  missing(paths: PathText[]): Promise<PathText[]> {
    return this.#request<PathText[]>({ type: 'missing', paths });
  }

  async manifest(file: FileStat): Promise<ManifestOutcome> {
    return inSlices(unpackManifest(await this.#request<PackedManifest>({ type: 'manifest', file })));
  }

  content(file: FileStat): Promise<ContentOutcome> {
    return this.#request<ContentOutcome>({ type: 'content', file });
  }

  space(): Promise<Space> {
    return this.#request<Space>({ type: 'space' });
  }

  sweep(): Promise<void> {
    return this.#request<void>({ type: 'sweep' });
  }

  /** Resolves within two seconds, whatever the process does. */
  async stop(): Promise<void> {
    this.#stopping = true;
    this.#onEvent = null;
    this.#cancelRestart?.();
    this.#cancelWatchdog?.();
    this.#fail('headroomd is stopping');
    const ending = this.#process;
    this.#process = null;
    if (ending === null) return;
    await new Promise<void>((resolve) => {
      const cancel = this.#options.clock.after(STOP_MS, resolve);
      ending.onExit(() => {
        cancel();
        resolve();
      });
      ending.send({ type: 'stop' });
    });
    ending.abandon();
  }

  #launch(): void {
    const { root, settings, scope = EVERYTHING, entry, clock } = this.#options;
    const start = this.#options.startProcess ?? startProcess;
    const started = start(entry, encodeArguments({ root, settings, scope, ...this.#known }));
    this.#process = started;
    this.#startedAt = clock.ticks();
    this.#heardAt = this.#startedAt;
    const inbox = new Inbox({
      event: (event) => this.#onChildEvent(event, started),
      partTaken: () => started.send({ type: 'taken' }),
      told: (message) => this.#receive(message),
    });
    this.#inbox = inbox;
    started.onMessage((message) => {
      if (this.#process !== started) return;
      this.#heardAt = clock.ticks();
      this.#options.heard?.();
      inbox.take(message);
    });
    started.onExit((how) => this.#onExit(started, how));
    started.send({ type: 'start' });
    this.#watchOver();
  }

  #onChildEvent(event: RootEvent, from: RootProcess): void {
    const taken = this.#emit(event);
    if (event.type === 'listing') void taken.then(() => from.send({ type: 'taken' }));
  }

  #receive(message: Told): void {
    if (message.type === 'answer') this.#pending.answer(message.id, message.value);
    else if (message.type === 'failed') this.#pending.refuse(message.id, message.message);
    else {
      const { mountPoint, drive } = message;
      this.#known = { mountPoint, drive };
      this.#options.onMounted?.(this.#known);
    }
  }

  /** Pings, and gives the process up when nothing at all has come from it for too long. */
  #watchOver(): void {
    const { clock, hungAfter = HUNG_AFTER } = this.#options;
    this.#cancelWatchdog?.();
    const period = (hungAfter * 1000) / 4;
    const asked = clock.ticks();
    this.#process?.send({ type: 'ping' });
    this.#cancelWatchdog = onNextBeat(clock, period, () => {
      const now = clock.ticks();
      // When we ourselves stood still, its messages may be waiting to be read.
      const late = now - asked > 2 * period;
      if (!late && now - this.#heardAt >= hungAfter * 1000) this.#onHung();
      else this.#watchOver();
    });
  }

  #onHung(): void {
    const hung = this.#process;
    if (hung === null) return;
    const { root, log, hungAfter = HUNG_AFTER } = this.#options;
    this.#process = null;
    this.#abandoned.add(hung);
    const detail = `no answer for ${hungAfter} s`;
    this.#fail(`${root} does not answer`);
    log.warn({ root, pid: hung.pid, abandoned: this.#abandoned.size }, `${root}: ${detail}; its process is given up`);
    void this.#emit({ type: 'state', state: 'hung', detail });
    hung.abandon();
    this.#restartLater();
  }

  #onExit(ended: RootProcess, how: string): void {
    if (this.#process !== ended) {
      // A process given up has died after all: the mount answers again.
      this.#abandoned.delete(ended);
      if (this.#cancelRestart === null && this.#process === null) this.#restartLater();
      return;
    }
    const { root, log } = this.#options;
    this.#process = null;
    this.#cancelWatchdog?.();
    this.#guard.processEnded();
    this.#fail(`the process for ${root} ${how}`);
    log.error({ root, pid: ended.pid, how }, `the process that watches ${root} ${how}; it is started again`);
    void this.#emit({ type: 'state', state: 'starting', detail: 'its process ended and is started again' });
    this.#restartLater();
  }

  #restartLater(): void {
    if (this.#stopping || this.#abandoned.size >= MOST_ABANDONED) return;
    const { clock } = this.#options;
    if (clock.ticks() - this.#startedAt > SOUND_MS) this.#pauseMs = FIRST_PAUSE_MS;
    const pause = this.#pauseMs;
    this.#pauseMs = Math.min(LONGEST_PAUSE_MS, this.#pauseMs * 2);
    this.#cancelRestart = clock.after(pause, () => {
      this.#cancelRestart = null;
      this.#launch();
    });
  }

  #request<T>(request: WithoutId<Request>): Promise<T> {
    const running = this.#process;
    if (running === null) return Promise.reject(new Error(`${this.#options.root} cannot be reached: ${this.#why}`));
    return this.#pending.ask<T>((id) => running.send({ ...request, id } as Request));
  }

  /** The process is not ours any more: what it had said and was not yet dealt with counts no more. */
  #fail(why: string): void {
    this.#inbox?.close();
    this.#why = why;
    this.#pending.refuseAll(why);
  }

  /** Resolves when the listener is through; what it fails with is its own to tell. */
  async #emit(event: RootEvent): Promise<void> {
    try {
      await this.#onEvent?.(event);
    } catch (error) {
      this.#options.log.error({ error: messageOf(error) }, `a root event was not dealt with: ${messageOf(error)}`);
    }
  }
}
