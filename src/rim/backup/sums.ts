import { createHash } from 'node:crypto';
import { Xxh32, Xxh64, xxh3 } from '@node-rs/xxhash';
import { createXXHash128 } from 'hash-wasm';
import { c4Of } from '../../core/backup/mhl-hash-value.ts';
import type { SumFormat, Sums } from '../../core/backup/sums.ts';

/** A hash of what comes piece by piece. */
interface Running {
  update(bytes: Uint8Array): void;
  digest(): string;
}

/** Hashes of one file in several formats, of what comes piece by piece. */
export class RunningSums {
  readonly #all: readonly (readonly [SumFormat, Running])[];

  private constructor(all: readonly (readonly [SumFormat, Running])[]) {
    this.#all = all;
  }

  static async of(formats: readonly SumFormat[]): Promise<RunningSums> {
    return new RunningSums(await Promise.all(formats.map(async (format) => [format, await begin(format)] as const)));
  }

  update(bytes: Uint8Array): void {
    for (const [, running] of this.#all) running.update(bytes);
  }

  digest(): Sums {
    return Object.fromEntries(this.#all.map(([format, running]) => [format, running.digest()]));
  }
}

/** The same of bytes that are in memory. */
export function sumsOf(bytes: Uint8Array, formats: readonly SumFormat[]): Sums {
  return Object.fromEntries(
    formats.map((format) => {
      if (format === 'xxh128') return [format, digits(xxh3.xxh128(bytes), 32)];
      const running = beginNow(format);
      running.update(bytes);
      return [format, running.digest()];
    }),
  );
}

/** The native package knows this one only of bytes that are in memory. */
async function begin(format: SumFormat): Promise<Running> {
  if (format !== 'xxh128') return beginNow(format);
  const running = (await createXXHash128()).init();
  return { update: (bytes) => void running.update(bytes), digest: () => running.digest() };
}

function beginNow(format: Exclude<SumFormat, 'xxh128'>): Running {
  switch (format) {
    case 'xxh64':
      return big(new Xxh64());
    case 'xxh3':
      return big(xxh3.Xxh3.withSeed());
    case 'xxh32': {
      const running = new Xxh32();
      return { update: (bytes) => void running.update(bytes), digest: () => digits(BigInt(running.digest()), 8) };
    }
    case 'c4': {
      const running = createHash('sha512');
      return { update: (bytes) => void running.update(bytes), digest: () => c4Of(running.digest()) };
    }
    default: {
      const running = createHash(format === 'b2' ? 'blake2b512' : format);
      return { update: (bytes) => void running.update(bytes), digest: () => running.digest('hex') };
    }
  }
}

function big(running: { update(bytes: Uint8Array): unknown; digest(): bigint }): Running {
  return { update: (bytes) => void running.update(bytes), digest: () => digits(running.digest(), 16) };
}

/** A number drops its leading zeros; the canonical form has them. */
function digits(value: bigint, count: number): string {
  return value.toString(16).padStart(count, '0');
}
