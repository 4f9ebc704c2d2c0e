import type { FileStat } from '../../core/model.ts';
import type { RootEvent } from '../../core/root-port.ts';
import { type ChildEvent, type PackedEvent, unpackEvent } from './packing.ts';
import type { FromChild } from './protocol.ts';

/** What comes from a root's process beside events and signs of life. */
export type Told = Exclude<FromChild, { type: 'event' | 'pong' }>;

export interface InboxOptions {
  /** A whole event. */
  event: (event: RootEvent) => void;
  /** A part of a listing is unpacked: another may be sent. */
  partTaken: () => void;
  told: (message: Told) => void;
  /** Monotonic, ms. */
  now?: () => number;
}

/** Unpacking may take this much of one turn of the loop. */
const TURN_MS = 5;

/**
 * Takes a process's messages in their order. What is small is dealt with at once. Where much comes together, the loop
 * gets its turn after every few milliseconds of unpacking, and the parts of a large listing are put together again.
 */
export class Inbox {
  readonly #options: InboxOptions;
  readonly #now: () => number;
  readonly #queue: (Told | { type: 'event'; event: PackedEvent })[] = [];
  #parts: { dir: string; files: FileStat[] } | null = null;
  #spentMs = 0;
  #turn: NodeJS.Immediate | null = null;
  #closed = false;

  constructor(options: InboxOptions) {
    this.#options = options;
    this.#now = options.now ?? (() => performance.now());
  }

  take(message: FromChild): void {
    if (message.type === 'pong' || this.#closed) return;
    this.#queue.push(message);
    if (this.#spentMs < TURN_MS) this.#workOn();
  }

  /** What has not been dealt with is dropped. */
  close(): void {
    this.#closed = true;
    this.#queue.length = 0;
    this.#parts = null;
    if (this.#turn !== null) clearImmediate(this.#turn);
  }

  #workOn(): void {
    const begun = this.#now() - this.#spentMs;
    while (this.#spentMs < TURN_MS) {
      const message = this.#queue.shift();
      if (message === undefined) break;
      if (message.type === 'event') this.#onEvent(unpackEvent(message.event));
      else this.#options.told(message);
      this.#spentMs = this.#now() - begun;
    }
    this.#turn ??= setImmediate(() => {
      this.#turn = null;
      this.#spentMs = 0;
      if (this.#queue.length > 0) this.#workOn();
    });
  }

  #onEvent(event: ChildEvent): void {
    if (event.type === 'part') {
      if (event.first || this.#parts === null) this.#parts = { dir: event.dir, files: [] };
      for (const file of event.files) this.#parts.files.push(file);
      this.#options.partTaken();
    } else if (event.type === 'listing') this.#options.event({ ...event, files: this.#together(event) });
    else this.#options.event(event);
  }

  #together({ dir, files }: Extract<RootEvent, { type: 'listing' }>): FileStat[] {
    const before = this.#parts;
    this.#parts = null;
    if (before === null || before.dir !== dir) return files;
    for (const file of files) before.files.push(file);
    return before.files;
  }
}
