import { expect, test } from 'vitest';
import type { ArrivedVersion } from '../../../src/core/cards/known-list.ts';
import { differingTakes } from '../../../src/daemon/assess/differing-takes.ts';

const places = ['Card 1/a.mov', 'Card 2/a.mov'].map((path) => ({ path, bytes: 9 }));
const version = (path: string, xxh64: string | null, isArriving = false): ArrivedVersion => ({
  ...{ volume: 'stripe', path, size: 9, mtimeNs: 0n, isArriving, changedSince: false },
  sums: xxh64 === null ? {} : { xxh64 },
});
const take = (sameSize: boolean) => ({ name: 'a.mov', sameSize, places });

async function differ(versions: ArrivedVersion[], sameSize = true) {
  const asked: string[] = [];
  const found = await differingTakes('stripe', [take(sameSize)], {
    async versionsAt(wanted) {
      asked.push(...wanted.map(({ volume, path }) => `${volume}/${path}`));
      return versions;
    },
  });
  return { found, asked };
}

test('of one size they differ when both contents are known and are not one', async () => {
  const [one, two] = places.map(({ path }) => path) as [string, string];
  const { found, asked } = await differ([version(one, 'aa'), version(two, 'bb')]);
  expect(found).toEqual([{ name: 'a.mov', places, by: 'content' }]);
  expect(asked).toEqual(['stripe/Card 1/a.mov', 'stripe/Card 2/a.mov']);
  expect((await differ([version(one, 'aa'), version(two, 'aa')])).found).toEqual([]);
  expect((await differ([version(one, 'aa'), version(two, null)])).found).toEqual([]);
  expect((await differ([version(one, 'aa'), version(two, 'bb', true)])).found).toEqual([]);
  expect((await differ([version(one, 'aa')])).found).toEqual([]);
});

test('of another size they do, and nothing is looked up', async () => {
  expect(await differ([], false)).toEqual({ found: [{ name: 'a.mov', places, by: 'size' }], asked: [] });
});
