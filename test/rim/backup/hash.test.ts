import fc from 'fast-check';
import { expect, test } from 'vitest';
import { hashOf, RunningHash } from '../../../src/rim/backup/hash.ts';

/**
 * XXH64 with seed 0: xxHash's own self-check (cli/xsum_sanity_check.c at commit b2e9dbb0), whose buffer begins with byteGen 2654435761,
 * each byte being the top eight bits, multiplied by 11400714785074694797 modulo 2^64 from one to the next.
 */
const VECTORS: [length: number, digest: string][] = [
  [0, 'ef46db3751d8e999'],
  [1, 'e934a84adb052768'],
  [4, '9136a0dca57457ee'],
  [14, '8282dcc4994e35c8'],
  [222, 'b641ae8cb691c174'],
];

function sanityBuffer(length: number): Buffer {
  let state = 2654435761n;
  return Buffer.from(
    Array.from({ length }, () => {
      const byte = Number(state >> 56n);
      state = BigInt.asUintN(64, state * 11400714785074694797n);
      return byte;
    }),
  );
}

test.each(VECTORS)('the published digest of %d bytes, at once and in pieces', (length, digest) => {
  const bytes = sanityBuffer(length);
  expect(hashOf(bytes)).toBe(digest);
  const running = new RunningHash();
  for (let at = 0; at < length; at += 7) running.update(bytes.subarray(at, at + 7));
  expect(running.digest()).toBe(digest);
});

test('in pieces of any size it is what it is at once, 16 digits', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 3000 }), fc.integer({ min: 1, max: 1025 }), (bytes, piece) => {
      const all = Buffer.from(bytes);
      const running = new RunningHash();
      for (let at = 0; at < all.length; at += piece) running.update(all.subarray(at, at + piece));
      expect(running.digest()).toBe(hashOf(all));
      expect(running.digest()).toMatch(/^[0-9a-f]{16}$/);
    }),
  );
});
