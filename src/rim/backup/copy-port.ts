import { randomBytes } from 'node:crypto';
import { batchesOf } from '../../core/backup/batches.ts';
import type {
  CopyEnd,
  CopyHooks,
  CopyItem,
  CopyJob,
  CopyOutcome,
  CopyPort,
  CopyRun,
  CopyTrouble,
  Pace,
  ReadItem,
  ReadJob,
  ReadOutcome,
} from '../../core/backup/copy-port.ts';
import type { Clock } from '../../core/ports.ts';
import { type CopyProcess, type StartCopyProcess, startCopyProcess } from './copy-process.ts';
import { troubleOf } from './outcome.ts';
import { type CopyOrder, type FromCopy, partsOf } from './protocol.ts';

export interface CopyPortOptions {
  clock: Clock;
  /** Seconds without anything that moves after which a job's process is given up (120). */
  hungAfter?: number;
  /** The same while a shelf is flushed (900): that is one call, which may have much to write. */
  flushHungAfter?: number;
  start?: StartCopyProcess;
}

const HUNG_AFTER = 120;
const FLUSH_HUNG_AFTER = 900;
/** How often it is looked whether anything moved. */
const LOOKS = 4;
/** After a stop it may take so long to tidy up; then the next job does. */
const STOP_MS = 10_000;
/** Batches in the process, the one under way among them. */
const AHEAD = 2;

/** Copies and reads back, each job in a process of its own. */
export function createCopyPort(options: CopyPortOptions): CopyPort {
  return {
    copy({ volume, shelf, pace }: CopyJob, items, hooks, signal) {
      const order: CopyOrder = { do: 'copy', volume, shelf, token: randomBytes(4).toString('hex') };
      return new Job<CopyItem, CopyOutcome>(options, order, pace, hooks, signal).run(items);
    },
    readBack({ place, pace }: ReadJob, items, hooks, signal) {
      return new Job<ReadItem, ReadOutcome>(options, { do: 'read', place }, pace, hooks, signal).run(items);
    },
  };
}

type Items<T> = Iterable<T> | AsyncIterable<T>;

class Job<Item extends CopyItem | ReadItem, Outcome extends CopyOutcome | ReadOutcome> {
  readonly #options: CopyPortOptions;
  readonly #hooks: CopyHooks<Outcome>;
  readonly #signal: AbortSignal;
  readonly #process: CopyProcess;
  readonly #gone = Promise.withResolvers<void>();
  #paused: boolean;
  #flushing = false;
  #heardAt: number;
  #trouble: CopyTrouble | null = null;
  #part: Outcome[] = [];
  /** Batches whose outcomes did not come yet, and those that the hook did not take yet. */
  #unanswered = 0;
  #inProcess = 0;
  #room = newRoom();
  #settling: Promise<void> = Promise.resolve();

  constructor(options: CopyPortOptions, order: CopyOrder, pace: Pace, hooks: CopyHooks<Outcome>, signal: AbortSignal) {
    this.#options = options;
    this.#hooks = hooks;
    this.#signal = signal;
    this.#paused = pace.paused;
    this.#process = (options.start ?? startCopyProcess)();
    this.#heardAt = options.clock.ticks();
    this.#process.onMessage((message) => this.#take(message));
    this.#process.onExit((how) => this.#onExit(how));
    this.#process.send({ type: 'begin', order, pace });
  }

  run(items: Items<Item>): CopyRun {
    return { pace: (to) => this.#pace(to), end: this.#run(items) };
  }

  async #run(items: Items<Item>): Promise<CopyEnd> {
    const stopWatch = this.#watch();
    let cancelGivingUp = (): void => {};
    const stop = (): void => {
      this.#process.send({ type: 'stop' });
      cancelGivingUp = this.#options.clock.after(STOP_MS, () => this.#giveUp());
    };
    if (this.#signal.aborted) stop();
    this.#signal.addEventListener('abort', stop, { once: true });
    try {
      await this.#feed(items);
      this.#process.send({ type: 'finish' });
      await this.#gone.promise;
      await this.#settling;
    } catch (error) {
      this.#process.abandon();
      throw error;
    } finally {
      stopWatch();
      cancelGivingUp();
      this.#signal.removeEventListener('abort', stop);
    }
    if (this.#trouble !== null) return { ended: 'broken', trouble: this.#trouble };
    return this.#signal.aborted ? { ended: 'stopped' } : { ended: 'done' };
  }

  async #feed(items: Items<Item>): Promise<void> {
    for await (const batch of batchesOf(items, ({ size }) => size)) {
      while (this.#inProcess >= AHEAD && !this.#isOver) await this.#room.promise;
      if (this.#isOver) return;
      this.#inProcess++;
      this.#unanswered++;
      for (const { part, last } of partsOf(batch)) this.#process.send({ type: 'items', items: part, last });
    }
  }

  get #isOver(): boolean {
    return this.#trouble !== null || this.#signal.aborted;
  }

  #pace(to: Pace): void {
    this.#paused = to.paused;
    this.#heardAt = this.#options.clock.ticks();
    this.#process.send({ type: 'pace', pace: to });
  }

  #take(message: FromCopy): void {
    this.#heardAt = this.#options.clock.ticks();
    if (message.type === 'ready') return;
    if (message.type === 'progress') {
      this.#flushing = message.progress.doing === 'flushing';
      this.#hooks.progress?.(message.progress);
    } else if (message.type === 'broken') this.#break(message.trouble);
    else this.#takeOutcomes(message.outcomes as Outcome[], message.last);
  }

  #takeOutcomes(outcomes: Outcome[], last: boolean): void {
    const now = this.#options.clock.now();
    for (const one of outcomes) {
      if (one.is === 'copied') one.verifiedAt = now;
      if (one.is === 'read') one.readAt = now;
      this.#part.push(one);
    }
    if (!last) return;
    this.#unanswered--;
    const batch = this.#part;
    this.#part = [];
    this.#settling = this.#settling.then(() => this.#hooks.settled(batch)).then(() => this.#madeRoom());
    // Whoever waits for room or the end hears of it.
    this.#settling.catch((error: unknown) => this.#room.reject(error));
  }

  #madeRoom(): void {
    this.#inProcess--;
    this.#room.resolve();
    this.#room = newRoom();
  }

  #break(trouble: CopyTrouble): void {
    this.#trouble ??= trouble;
    this.#room.resolve();
  }

  #onExit(how: string): void {
    const isEarly = this.#unanswered > 0 && !this.#signal.aborted;
    if (isEarly || !how.endsWith('code 0')) this.#break(troubleOf('process-ended', '', how, null));
    this.#room.resolve();
    this.#gone.resolve();
  }

  #giveUp(): void {
    this.#process.abandon();
    this.#room.resolve();
    this.#gone.resolve();
  }

  /** Gives the process up when nothing at all has moved for too long. The returned function ends it. */
  #watch(): () => void {
    const { clock, hungAfter = HUNG_AFTER, flushHungAfter = FLUSH_HUNG_AFTER } = this.#options;
    let cancel = (): void => {};
    const look = (): void => {
      const most = (this.#flushing ? flushHungAfter : hungAfter) * 1000;
      if (!this.#paused && this.#isWorking && clock.ticks() - this.#heardAt >= most) {
        this.#break(troubleOf('no-answer', '', `nothing moved for ${most / 1000} s`, null));
        this.#giveUp();
        return;
      }
      if (!this.#isWorking) this.#heardAt = clock.ticks();
      cancel = clock.after((hungAfter * 1000) / LOOKS, look);
    };
    cancel = clock.after((hungAfter * 1000) / LOOKS, look);
    return () => cancel();
  }

  /** It has something to do: batches, or an order to end. */
  get #isWorking(): boolean {
    return this.#unanswered > 0 || this.#isOver;
  }
}

/** That it is refused is heard of elsewhere, when nobody waits for it. */
function newRoom(): PromiseWithResolvers<void> {
  const room = Promise.withResolvers<void>();
  room.promise.catch(() => {});
  return room;
}
