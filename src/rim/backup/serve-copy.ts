import { statSync } from 'node:fs';
import type { CopyItem, CopyProgress, CopyTrouble, ReadItem } from '../../core/backup/copy-port.ts';
import { messageOf } from '../../core/fault.ts';
import { copyBatch } from './copy-batch.ts';
import { Journal, removeLeftovers } from './journal.ts';
import { LargeLane } from './large-lane.ts';
import { type Medium, mediumAt } from './medium.ts';
import { troubleOf } from './outcome.ts';
import { SharedPace } from './pace.ts';
import { type CopyOrder, type FromCopy, partsOf, type ToCopy } from './protocol.ts';
import { readBatch } from './read-batch.ts';
import { heldPath, Shelf, ShelfGone } from './shelf.ts';
import { SmallLane } from './small-lane.ts';

const TELL_MS = 250;

type Item = CopyItem | ReadItem;
type Outcomes = Extract<FromCopy, { type: 'outcomes' }>['outcomes'];
type RunBatch = (items: Item[]) => Promise<Outcomes>;

/** The work of a job's process: one batch after the other. */
export class CopyServer {
  readonly #send: (message: FromCopy) => void;
  readonly #pace = new SharedPace();
  readonly #small = new SmallLane(this.#pace);
  readonly #large = new LargeLane(this.#pace);
  readonly #waiting: Item[][] = [];
  #coming: Item[] = [];
  #run: RunBatch | null = null;
  #working: Promise<void> | null = null;
  #finishing = false;
  #broken = false;
  #doing: Exclude<CopyProgress['doing'], 'paused'> = 'writing';
  #moved = { written: 0, readBack: 0, seen: 0 };
  #settled = 0;
  #told = '';
  readonly #ended = Promise.withResolvers<void>();

  constructor(send: (message: FromCopy) => void) {
    this.#send = send;
  }

  /** Resolves when all batches are through after `finish` or `stop`, or when it could not go on. */
  get ended(): Promise<void> {
    return this.#ended.promise;
  }

  take(message: ToCopy): void {
    switch (message.type) {
      case 'begin':
        this.#pace.set(message.pace);
        this.#begin(message.order);
        return;
      case 'items':
        this.#coming.push(...message.items);
        if (!message.last) return;
        this.#waiting.push(this.#coming);
        this.#coming = [];
        break;
      case 'pace':
        this.#pace.set(message.pace);
        return;
      case 'stop':
        this.stop();
        break;
      case 'finish':
        this.#finishing = true;
    }
    this.#goOn();
  }

  /** Files that are under way are given up, and nothing is left of them. */
  stop(): void {
    this.#waiting.length = 0;
    this.#finishing = true;
    this.#pace.stop();
  }

  #begin(order: CopyOrder): void {
    try {
      this.#run = this.#prepare(order);
      setInterval(() => this.#tell(), TELL_MS).unref();
    } catch (error) {
      this.#break(error);
    }
  }

  #prepare(order: CopyOrder): RunBatch {
    const [small, large, doing] = [this.#small, this.#large, this.#step];
    if (order.do === 'copy') {
      const shelf = new Shelf(order.shelf);
      removeLeftovers(shelf);
      const journal = new Journal(shelf, order.token);
      const kit = {
        volume: order.volume,
        token: order.token,
        shelf,
        medium: mediumOf(shelf),
        journal,
        small,
        large,
        doing,
      };
      return (items) => copyBatch(items as CopyItem[], kit);
    }
    const place =
      'volume' in order.place
        ? order.place
        : { shelf: new Shelf('shelf' in order.place ? order.place.shelf : order.place.folder) };
    const medium =
      'shelf' in place ? mediumOf(place.shelf) : mediumAt(place.volume, statSync(place.volume, { bigint: true }).dev);
    return (items) => readBatch(items as ReadItem[], { place, medium, small, large, doing });
  }

  #goOn(): void {
    if (this.#working !== null || this.#broken) return;
    const batch = this.#waiting.shift();
    if (batch === undefined || this.#run === null) {
      if (this.#finishing) this.#end();
      return;
    }
    this.#working = this.#run(batch).then(
      (outcomes) => this.#report(outcomes),
      (error: unknown) => this.#break(error),
    );
    void this.#working.then(() => {
      this.#working = null;
      this.#goOn();
    });
  }

  #report(outcomes: Outcomes): void {
    this.#settled += outcomes.length;
    this.#tell();
    for (const { part, last } of partsOf(outcomes)) this.#send({ type: 'outcomes', outcomes: part, last });
  }

  #break(error: unknown): void {
    this.#broken = true;
    const trouble: CopyTrouble =
      error instanceof ShelfGone
        ? troubleOf('shelf-gone', '', error.message, null)
        : troubleOf('failed', '', messageOf(error), (error as NodeJS.ErrnoException).code ?? null);
    this.#send({ type: 'broken', trouble });
    this.#end();
  }

  #end(): void {
    void this.#small.end().then(() => this.#ended.resolve());
  }

  readonly #step = (step: CopyProgress['doing']): void => {
    this.#count();
    if (step !== 'paused') this.#doing = step;
    this.#tell();
  };

  #count(): void {
    const { moved } = this.#pace;
    this.#moved[this.#doing === 'writing' ? 'written' : 'readBack'] += moved - this.#moved.seen;
    this.#moved.seen = moved;
  }

  /** Silence says that nothing moves. */
  #tell(): void {
    this.#count();
    const progress: CopyProgress = {
      doing: this.#pace.paused ? 'paused' : this.#doing,
      writtenBytes: this.#moved.written,
      readBackBytes: this.#moved.readBack,
      settledFiles: this.#settled,
    };
    const text = JSON.stringify(progress);
    if (text === this.#told) return;
    this.#told = text;
    this.#send({ type: 'progress', progress });
  }
}

function mediumOf(shelf: Shelf): Medium {
  return mediumAt(heldPath(shelf.root), shelf.device);
}
