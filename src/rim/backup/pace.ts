import type { Pace } from '../../core/backup/copy-port.ts';

/** The job is to end: thrown at the next request, wherever it is. */
class Stopped extends Error {
  constructor() {
    super('the job was stopped');
    this.name = 'Stopped';
  }
}

/** Largest request: one of these is under way when a pause is ordered, for each stream. */
export const LARGEST_REQUEST = 4 * 1_048_576;
const SMALLEST_REQUEST = 65_536;
/** Under a ceiling a request is no more than what it allows in such a part of a second. */
const PART_OF_SECOND = 8;

/** Places in the shared memory: whole numbers of 32 bits, then of 64. */
const CHANGES = 0;
const PAUSED = 1;
const STOPPED = 2;
const FREE_AT_NS = 2;
const CEILING = 3;
const MOVED = 4;
const BYTES = 40;

/**
 * How fast all threads of a job may read together, in memory that they share. A thread takes its turn by setting the time from
 * which the next one may read; whoever waits is woken when the pace changes.
 */
export class SharedPace {
  readonly memory: SharedArrayBuffer;
  readonly #flags: Int32Array<SharedArrayBuffer>;
  readonly #rates: BigInt64Array<SharedArrayBuffer>;

  /** `memory`: of the pace in another thread; without it a new one, which lets everything pass. */
  constructor(memory: SharedArrayBuffer = new SharedArrayBuffer(BYTES)) {
    this.memory = memory;
    this.#flags = new Int32Array(memory);
    this.#rates = new BigInt64Array(memory);
  }

  /** Bytes that were let through so far. */
  get moved(): number {
    return Number(Atomics.load(this.#rates, MOVED));
  }

  get paused(): boolean {
    return Atomics.load(this.#flags, PAUSED) === 1;
  }

  set({ paused, ceilingBps }: Pace): void {
    Atomics.store(this.#flags, PAUSED, paused ? 1 : 0);
    Atomics.store(this.#rates, CEILING, ceilingBps === null ? 0n : BigInt(Math.max(1, Math.round(ceilingBps))));
    Atomics.store(this.#rates, FREE_AT_NS, 0n);
    this.#wake();
  }

  stop(): void {
    Atomics.store(this.#flags, STOPPED, 1);
    this.#wake();
  }

  /** Bytes to ask for at a time, a multiple of 64 KiB. */
  requestBytes(): number {
    const ceiling = Number(Atomics.load(this.#rates, CEILING));
    if (ceiling === 0) return LARGEST_REQUEST;
    const part = Math.floor(ceiling / PART_OF_SECOND / SMALLEST_REQUEST) * SMALLEST_REQUEST;
    return Math.min(LARGEST_REQUEST, Math.max(SMALLEST_REQUEST, part));
  }

  /** Returns when so many bytes may be read; blocks the thread. @throws Stopped */
  waitSync(bytes: number): void {
    for (let turn = this.#turn(bytes); turn !== null; turn = this.#turn(bytes)) {
      if (Atomics.wait(this.#flags, CHANGES, turn.change, turn.ms) === 'timed-out' && this.#holds()) break;
    }
    Atomics.add(this.#rates, MOVED, BigInt(bytes));
  }

  /** The same, without blocking. @throws Stopped */
  async wait(bytes: number): Promise<void> {
    for (let turn = this.#turn(bytes); turn !== null; turn = this.#turn(bytes)) {
      const { value } = Atomics.waitAsync(this.#flags, CHANGES, turn.change, turn.ms);
      if ((await value) === 'timed-out' && this.#holds()) break;
    }
    Atomics.add(this.#rates, MOVED, BigInt(bytes));
  }

  /** Neither paused nor stopped since. */
  #holds(): boolean {
    if (Atomics.load(this.#flags, STOPPED) === 1) throw new Stopped();
    return !this.paused;
  }

  /** `null`: go on at once. Else how long to wait at most, unless `change` is no longer so. */
  #turn(bytes: number): { change: number; ms: number } | null {
    const change = Atomics.load(this.#flags, CHANGES);
    if (!this.#holds()) return { change, ms: Number.POSITIVE_INFINITY };
    const ceiling = Atomics.load(this.#rates, CEILING);
    if (ceiling === 0n) return null;
    const now = process.hrtime.bigint();
    const from = this.#take(now, (BigInt(bytes) * 1_000_000_000n) / ceiling);
    return from <= now ? null : { change, ms: Number(from - now) / 1e6 };
  }

  #take(now: bigint, lasts: bigint): bigint {
    for (;;) {
      const free = Atomics.load(this.#rates, FREE_AT_NS);
      const from = free > now ? free : now;
      if (Atomics.compareExchange(this.#rates, FREE_AT_NS, free, from + lasts) === free) return from;
    }
  }

  #wake(): void {
    Atomics.add(this.#flags, CHANGES, 1);
    Atomics.notify(this.#flags, CHANGES);
  }
}
