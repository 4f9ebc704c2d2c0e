import { Xxh64, xxh64 } from '@node-rs/xxhash';

/** XXH64, seed 0, of all of it: 16 hexadecimal digits. */
export function hashOf(bytes: Buffer): string {
  return digits(xxh64(bytes));
}

/** The same, of what comes piece by piece. */
export class RunningHash {
  readonly #state = new Xxh64();

  update(bytes: Buffer): void {
    this.#state.update(bytes);
  }

  digest(): string {
    return digits(this.#state.digest());
  }
}

/** A number drops its leading zeros; the canonical form has them. */
function digits(value: bigint): string {
  return value.toString(16).padStart(16, '0');
}
