import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';

interface SpareMemoryParts {
  before?: () => void;
  /** Of this thread. */
  collect?: () => void;
}

/** Items after which giving back is worth its time. */
const MANY = 10_000;

/** So few items in one period are rest. */
const FEW = 100;

/**
 * Gives back what much work leaves behind, once it has come to rest: the collector would keep it for the next such work,
 * which may be hours away. It takes some ten milliseconds in which nothing else happens in this thread.
 */
export class SpareMemory {
  readonly #restMs: number;
  readonly #before: () => void;
  readonly #collect: () => void;
  #first = true;
  #items = 0;
  #lately = 0;
  #timer: NodeJS.Timeout | null = null;

  /** Looks whether there is rest every `restMs`, while there is something to give back. `before` lets go of more. */
  constructor(restMs: number, { before = () => {}, collect = findCollector() }: SpareMemoryParts = {}) {
    this.#restMs = restMs;
    this.#before = before;
    this.#collect = collect;
  }

  /** So many files or records were handled. The first work leaves what starting took as well; later little leaves next to nothing. */
  worked(items: number): void {
    this.#items += items;
    this.#lately += items;
    if (this.#timer === null && (this.#first || this.#items >= MANY)) this.#wait();
  }

  close(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
  }

  #wait(): void {
    this.#lately = 0;
    this.#timer = setTimeout(() => this.#look(), this.#restMs).unref();
  }

  #look(): void {
    this.#timer = null;
    if (this.#lately >= FEW) {
      this.#wait();
      return;
    }
    this.#first = false;
    this.#items = 0;
    this.#before();
    this.#collect();
  }
}

type Gc = (how: { type: 'major'; execution: 'sync'; flavor: 'last-resort' }) => void;

/** The collector is there for whoever starts node with a flag; set later, the flag works in new contexts. */
function findCollector(): () => void {
  setFlagsFromString('--expose-gc');
  const found: unknown = runInNewContext('globalThis.gc');
  if (typeof found !== 'function') return () => {};
  return () => (found as Gc)({ type: 'major', execution: 'sync', flavor: 'last-resort' });
}
