import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { identifyCard, oldestOf } from '../../../src/core/cards/card-identity.ts';
import type { InventoryFile } from '../../../src/core/cards/inventory.ts';
import { runs } from '../../effort.ts';

const SHOT = Date.UTC(2027, 2, 4, 9);
const take = (n: number, changes: Partial<InventoryFile> = {}): InventoryFile => ({
  path: `DCIM/100SALTM/A${n}.MOV`,
  size: 1000 + n,
  mtimeMs: SHOT + n * 60_000,
  ...changes,
});
const earlier = (id: string, files: InventoryFile[], sameMount = false) => ({ id, files, sameMount });
const INDEX: InventoryFile = { path: 'MISC/INDEX.DAT', size: 10, mtimeMs: SHOT };

/** Takes of one shoot, each another. */
const takes = fc
  .uniqueArray(fc.nat(60), { minLength: 1, maxLength: 12 })
  .map((numbers) => numbers.toSorted((one, other) => one - other).map((n) => take(n)));

describe('what a reading of a card is', () => {
  test('never read: new; without footage: nothing', () => {
    expect(identifyCard([take(1)], true, [])).toEqual({ is: 'new' });
    expect(identifyCard([INDEX], true, [earlier('a', [take(1)])])).toEqual({ is: 'nothing' });
    expect(identifyCard([], true, [])).toEqual({ is: 'nothing' });
  });

  test('whatever is recorded on: the same; the camera may write its own files anew', () => {
    fc.assert(
      fc.property(takes, takes, fc.boolean(), (before, more, whole) => {
        const paths = new Set(before.map(({ path }) => path));
        const now = [...before, ...more.filter(({ path }) => !paths.has(path)), { ...INDEX, size: 99 }];
        expect(identifyCard(now, whole, [earlier('a', [...before, INDEX])])).toEqual({
          is: 'grown',
          id: 'a',
          gone: [],
        });
      }),
      { numRuns: runs(200) },
    );
  });

  test('formatted and filled anew, under whatever names: never the same', () => {
    fc.assert(
      fc.property(takes, takes, (before, after) => {
        const now = after.map((file) => ({ ...file, mtimeMs: (file.mtimeMs ?? 0) + 86_400_000 }));
        expect(identifyCard(now, true, [earlier('a', before)])).toEqual({ is: 'new' });
      }),
      { numRuns: runs(200) },
    );
  });

  test('whatever a broken reading saw of it says no more than is known', () => {
    fc.assert(
      fc.property(takes, fc.nat(), (known, from) => {
        const part = known.slice(from % known.length);
        const found = identifyCard(part, false, [earlier('a', known)]);
        expect(found).toEqual(
          part.length === known.length ? { is: 'grown', id: 'a', gone: [] } : { is: 'part', id: 'a' },
        );
      }),
      { numRuns: runs(200) },
    );
  });

  test('takes that went from it are named, as long as the oldest is there', () => {
    expect(identifyCard([take(1), take(3)], true, [earlier('a', [take(1), take(2), take(3), INDEX])])).toEqual({
      is: 'grown',
      id: 'a',
      gone: [take(2)],
    });
    expect(identifyCard([take(2), take(3)], true, [earlier('a', [take(1), take(2), take(3)])])).toEqual({ is: 'new' });
  });

  test('a take may grow while the card stays where it is, and then only', () => {
    const grown = take(1, { size: 9000, mtimeMs: SHOT + 3_600_000 });
    expect(identifyCard([grown], true, [earlier('a', [take(1)], true)])).toEqual({ is: 'grown', id: 'a', gone: [] });
    expect(identifyCard([grown], true, [earlier('a', [take(1)])])).toEqual({ is: 'new' });
    const shrunk = take(1, { size: 900 });
    expect(identifyCard([shrunk], true, [earlier('a', [take(1)], true)])).toEqual({ is: 'new' });
  });

  test('of several earlier ones the newest that fits', () => {
    const all = [earlier('c', [take(9)]), earlier('b', [take(1), take(2)]), earlier('a', [take(1)])];
    expect(identifyCard([take(1), take(2)], true, all)).toMatchObject({ id: 'b' });
  });
});

test('the oldest is the footage that was recorded first; of the same time the first by name', () => {
  const twin = take(1, { path: 'DCIM/100SALTM/A0.MOV' });
  expect(oldestOf([take(2), take(1), twin, { ...INDEX, mtimeMs: 0 }])).toEqual(twin);
  expect(oldestOf([INDEX])).toBeNull();
});
