import fc from 'fast-check';
import { expect, test } from 'vitest';
import { batchesOf } from '../../../src/core/backup/batches.ts';

const GIBIBYTE = 1024 ** 3;

async function all(sizes: Iterable<number> | AsyncIterable<number>): Promise<number[][]> {
  return Array.fromAsync(batchesOf(sizes, (size) => size));
}

test('2048 files, 1 GiB, or one file that is larger', async () => {
  expect((await all(Array.from({ length: 5000 }, () => 1))).map((batch) => batch.length)).toEqual([2048, 2048, 904]);
  expect(await all([GIBIBYTE / 2, GIBIBYTE / 2, 1, 4 * GIBIBYTE, 2])).toEqual([
    [GIBIBYTE / 2, GIBIBYTE / 2],
    [1],
    [4 * GIBIBYTE],
    [2],
  ]);
  expect(await all([])).toEqual([]);
});

test('nothing is lost, nothing changes its place, and no batch but of one file is too large', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(fc.integer({ min: 0, max: 2 * GIBIBYTE })), async (sizes) => {
      const batches = await all(
        (async function* () {
          yield* sizes;
        })(),
      );
      expect(batches.flat()).toEqual(sizes);
      for (const batch of batches) {
        expect(batch.length).toBeGreaterThan(0);
        if (batch.length > 1) expect(batch.reduce((a, b) => a + b)).toBeLessThanOrEqual(GIBIBYTE);
      }
    }),
  );
});
