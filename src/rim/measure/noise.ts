import { pageMemory } from '../base/page-memory.ts';

const SLOTS = 32;
const BLOCK = 4096;

/**
 * Bytes that cannot be compressed, `requestBytes` at a time, no two 4 KiB blocks alike: a drive or file system that compresses, or
 * writes equal blocks once, gains nothing. What was handed out is good until 31 more were.
 */
export class Noise {
  readonly #memory: Buffer;
  readonly #requestBytes: number;
  #next = 0;

  /** `fill`: fills memory with random bytes. */
  constructor(requestBytes: number, fill: (memory: Buffer) => void) {
    this.#requestBytes = requestBytes;
    this.#memory = pageMemory(requestBytes * SLOTS);
    fill(this.#memory);
  }

  next(): Buffer {
    const slot = (this.#next % SLOTS) * this.#requestBytes;
    const part = this.#memory.subarray(slot, slot + this.#requestBytes);
    for (let at = 0; at < part.length; at += BLOCK) part.writeDoubleLE(this.#next + at / part.length, at);
    this.#next += 1;
    return part;
  }
}
