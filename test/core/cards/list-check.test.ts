import { describe, expect, test } from 'vitest';
import type { Sums } from '../../../src/core/backup/sums.ts';
import type { ArrivedVersion, KnownListed } from '../../../src/core/cards/known-list.ts';
import { checkList, filesToRead, type ListSides } from '../../../src/core/cards/list-check.ts';

const BASE = 'Saltmarsh/SALT_A';
/** MD5 of "" , "a", "abc" and XXH64 of "a" (RFC 1321, A.5; xxHash's own tests): only that they differ matters here. */
const EMPTY = 'd41d8cd98f00b204e9800998ecf8427e';
const A = '0cc175b9c0f1b6a831c399e269772661';
const ABC = '900150983cd24fb0d6963f7d28e17f72';
const XXH_A = 'd24ec4f1a98c6e5b';

const listed = (path: string, size: number | null, sums: Sums = {}): KnownListed => ({ path, size, sums });
const there = (path: string, size: number, sums: Sums = {}, isArriving = false): ArrivedVersion => ({
  ...{ volume: 'stripe', path: `${BASE}/${path}`, size, mtimeNs: 1n, isArriving, sums, changedSince: false },
});
const sides = (over: Partial<ListSides> & { files: KnownListed[] }): ListSides => ({
  ...{ base: BASE, now: [], whole: true },
  ...over,
  list: { kind: 'list', files: over.files, ignore: [], ...over.list },
});
const history = (files: KnownListed[], now: ArrivedVersion[], ignore: string[] = []): ListSides => ({
  ...{ list: { kind: 'history', files, ignore }, base: BASE, now, whole: true },
});
const check = (one: ListSides) => checkList(one, 'mark', 5);

describe('a list beside what arrived', () => {
  test('by content where both are known, by size where they are not, and never of what is arriving', () => {
    const result = check(
      sides({
        files: [
          listed('a.mov', 1, { md5: A }),
          listed('b.mov', 3, { md5: A }),
          listed('c.mov', 7, { md5: A }),
          listed('d.mov', null, { md5: A }),
          listed('e.mov', 9, { md5: A }),
          listed('f.mov', 9, { md5: A }),
        ],
        now: [
          there('a.mov', 1, { md5: A }),
          there('b.mov', 3, { md5: ABC }),
          there('c.mov', 6),
          there('d.mov', 4),
          there('e.mov', 9, {}, true),
        ],
      }),
    );
    expect(result).toMatchObject({ files: 6, intact: 1, altered: 2, unproved: 1, arriving: 1, missing: 1, fresh: 0 });
    expect(result.first.altered).toEqual([
      { path: 'b.mov', size: 3, format: 'md5', listed: A, found: ABC },
      { path: 'c.mov', size: 6, format: null, listed: '7', found: '6' },
    ]);
    expect(result.first.missing).toEqual([{ path: 'f.mov', size: 9 }]);
    expect(result).toMatchObject({ pending: 1, pendingBytes: 4 });
  });

  test('a value of any format that both have decides, whatever else is known', () => {
    const one = [listed('a.mov', 1, { md5: ABC, xxh64: XXH_A })];
    expect(check(sides({ files: one, now: [there('a.mov', 1, { xxh64: XXH_A })] }))).toMatchObject({ intact: 1 });
    expect(check(sides({ files: one, now: [there('a.mov', 1, { sha1: 'x' })] }))).toMatchObject({
      unproved: 1,
      pending: 1,
    });
  });

  test('what is to be read: of the size that is listed, in the fastest format that the list has', () => {
    const files = [
      listed('a.mov', 1, { md5: A, sha1: 'x' }),
      listed('b.mov', 2, { md5: A, xxh128: 'y' }),
      listed('c.mov', 3, {}),
      listed('d.mov', 4, { md5: A }),
      listed('e.mov', 5, { md5: A }),
    ];
    const now = [
      there('a.mov', 1),
      there('b.mov', 2),
      there('c.mov', 3),
      there('d.mov', 5),
      there('e.mov', 5, { md5: A }),
    ];
    const found = filesToRead(sides({ files, now })).map(({ version: { path }, format }) => [path, format]);
    expect(found).toEqual([
      [`${BASE}/a.mov`, 'sha1'],
      [`${BASE}/b.mov`, 'xxh128'],
    ]);
  });

  test('an empty list says nothing', () => {
    expect(check(sides({ files: [] }))).toMatchObject({ files: 0, intact: 0, missing: 0, pending: 0 });
  });
});

describe('a history beside what arrived', () => {
  test('renamed, new and missing are told apart by content (ASC Media Hash List Specification 1.0, 5.6.4)', () => {
    const result = check(
      history(
        [
          listed('Clips/a.mov', 1, { md5: A }),
          listed('Clips/b.mov', 3, { md5: ABC }),
          listed('Clips/c.mov', 8, { md5: EMPTY }),
        ],
        [there('Clips/a.mov', 1, { md5: A }), there('Clips/heron.mov', 3, { md5: ABC }), there('Clips/notes.txt', 5)],
      ),
    );
    expect(result).toMatchObject({ intact: 1, renamed: 1, missing: 1, fresh: 1, altered: 0 });
    expect(result.first).toMatchObject({
      renamed: [{ path: 'Clips/heron.mov', from: 'Clips/b.mov' }],
      missing: [{ path: 'Clips/c.mov', size: 8 }],
      fresh: ['Clips/notes.txt'],
    });
  });

  test("a file of a missing one's size is read before it is called new", () => {
    const files = [listed('b.mov', 3, { xxh128: 'y', md5: ABC })];
    const one = history(files, [there('heron.mov', 3), there('other.mov', 4)]);
    expect(filesToRead(one).map(({ version: { path }, format }) => [path, format])).toEqual([
      [`${BASE}/heron.mov`, 'xxh128'],
    ]);
    expect(check(one)).toMatchObject({ missing: 1, fresh: 2, pending: 1 });
  });

  test('the folder of lists, and what the history leaves out, is not new; what is arriving is not missing', () => {
    const now = [
      there('ascmhl/0001_SALT_A.mhl', 3),
      there('.DS_Store', 4),
      there('a.tmp', 5),
      there('a.mov', 1, {}, true),
    ];
    const result = check(history([listed('a.mov', 1, { md5: A })], now, ['*.tmp']));
    expect(result).toMatchObject({ fresh: 0, missing: 0, arriving: 1 });
  });

  test('altered content is told with both values', () => {
    const result = check(history([listed('a.mov', 1, { md5: A })], [there('a.mov', 1, { md5: ABC })]));
    expect(result.first.altered).toEqual([{ path: 'a.mov', size: 1, format: 'md5', listed: A, found: ABC }]);
  });

  test('where not everything below was looked at, nothing is renamed or new', () => {
    const one = { ...history([listed('b.mov', 3, { md5: ABC })], [there('heron.mov', 3, { md5: ABC })]), whole: false };
    expect(check(one)).toMatchObject({ renamed: 0, fresh: 0, missing: 1, pending: 0 });
  });
});

describe('a file that was altered, and changed in some way since', () => {
  const file = listed('a.mov', 1, { md5: A });
  const now = (sums: Sums, changedSince: boolean) => [{ ...there('a.mov', 1, sums), changedSince }];

  test('is read again, and is altered until that is known', () => {
    const one = sides({ files: [file], now: now({ md5: ABC }, true) });
    expect(filesToRead(one)).toMatchObject([{ format: 'md5', isAgain: true, version: { path: `${BASE}/a.mov` } }]);
    expect(check(one)).toMatchObject({ altered: 1, unproved: 0, pending: 0, pendingBytes: 0 });
  });

  test('what is as listed is not, nor what did not change', () => {
    expect(filesToRead(sides({ files: [file], now: now({ md5: A }, true) }))).toEqual([]);
    expect(filesToRead(sides({ files: [file], now: now({ md5: ABC }, false) }))).toEqual([]);
    expect(filesToRead(sides({ files: [file], now: now({}, true) }))).toMatchObject([{ isAgain: false }]);
  });
});
