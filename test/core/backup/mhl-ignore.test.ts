import { expect, test } from 'vitest';
import { DEFAULT_IGNORE, grownIgnore, ignoreMatcher } from '../../../src/core/backup/mhl-ignore.ts';

/** gitignore(5), "Pattern format"; test/outside/ignored-as-git.test.ts asks git itself. */
test.each<[string[], string[], string[]]>([
  [[...DEFAULT_IGNORE], ['.DS_Store', 'a/.DS_Store', 'ascmhl/x', 'a/ascmhl/x'], ['DS_Store', 'ascmhl.txt', 'Ascmhl/x']],
  [
    ['*.tmp', '!keep.tmp'],
    ['a.tmp', 'a/b.tmp'],
    ['keep.tmp', 'a/keep.tmp', 'tmp'],
  ],
  [['cache/', '!cache/keep'], ['cache/a', 'a/cache/b', 'cache/keep'], ['cache']],
  [
    ['/top', 'a/b'],
    ['top', 'a/b', 'a/b/c'],
    ['a/top', 'c/a/b'],
  ],
  [
    ['**/x', 'a/**', 'd/**/e'],
    ['x', 'b/x', 'a/b', 'd/e', 'd/f/g/e'],
    ['a', 'd/f'],
  ],
  [
    ['take[1-3]?', '[!a]z', '[]-]'],
    ['take1a', 'bz', ']', '-'],
    ['take4a', 'az', 'take1'],
  ],
  [
    ['# no', '\\#yes', '\\!yes', 'end ', 'kept\\ '],
    ['#yes', '!yes', 'end', 'kept '],
    ['# no', 'kept'],
  ],
  [['', '/', '!', '[', 'a\\', 'a[b'], [], ['a', '[', 'a[b', '!']],
  [
    ['\\[a\\]', 'b[\\]]', 'c[\\a-\\c]'],
    ['[a]', 'b]', 'cb'],
    ['a', 'cd'],
  ],
  [['a\\/b'], ['a/b'], ['b']],
])('%j', (patterns, leftOut, kept) => {
  const isIgnored = ignoreMatcher(patterns);
  for (const path of leftOut) expect(isIgnored(path, false), path).toBe(true);
  for (const path of kept) expect(isIgnored(path, false), path).toBe(false);
});

test('a list only grows', () => {
  expect(grownIgnore(['a', 'b'], ['b', 'c', 'c'])).toEqual(['a', 'b', 'c']);
  expect(grownIgnore(['a'], [])).toEqual(['a']);
});
