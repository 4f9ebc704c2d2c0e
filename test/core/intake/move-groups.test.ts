import { describe, expect, test } from 'vitest';
import { type MoveTally, moveGroups, tallyMove } from '../../../src/core/intake/move-groups.ts';

function groups(...moves: [string, string][]) {
  const tally: MoveTally = new Map();
  for (const [at, [from, to]] of moves.entries()) tallyMove(tally, { from, to, bytes: 10 + at });
  return moveGroups(tally);
}

const level = (from: string, to: string) => ({ from, to });

describe('what was moved, from where each file was and is', () => {
  test('one file is told as it is', () => {
    expect(groups(['P/a/1.mov', 'Q/b/2.mov'])).toEqual([
      { from: 'P/a/1.mov', to: 'Q/b/2.mov', above: [], files: 1, bytes: 10, of: 'file' },
    ]);
  });

  test('a folder by another name: the innermost folder of all, and those above it that it may have been', () => {
    expect(groups(['P/a/x/y/1.mov', 'P/b/x/y/1.mov'], ['P/a/x/z/2.mov', 'P/b/x/z/2.mov'])).toEqual([
      { ...level('P/a/x', 'P/b/x'), above: [level('P/a', 'P/b')], files: 2, bytes: 21, of: 'tree' },
    ]);
  });

  test('into a folder, and out of it: what is above is the root, which never moves', () => {
    const [into] = groups(['Day 1/1.mov', 'old/Day 1/1.mov'], ['Day 1/2.mov', 'old/Day 1/2.mov']);
    expect(into).toMatchObject(level('Day 1', 'old/Day 1'));
    const [out] = groups(['old/Day 1/1.mov', 'Day 1/1.mov'], ['old/Day 1/2.mov', 'Day 1/2.mov']);
    expect(out).toMatchObject(level('old/Day 1', 'Day 1'));
    expect(groups(['1.mov', 'P/1.mov'], ['2.mov', 'P/2.mov'])).toMatchObject([level('', 'P')]);
  });

  test('other names in one folder, or from one to another, are one move', () => {
    expect(groups(['P/1.mov', 'P/a.mov'], ['P/2.mov', 'P/b.mov'], ['P/3.mov', 'Q/3.mov'])).toEqual([
      { ...level('P', 'P'), above: [], files: 2, bytes: 21, of: 'names' },
      { ...level('P/3.mov', 'Q/3.mov'), above: [], files: 1, bytes: 12, of: 'file' },
    ]);
  });

  test('independent moves are apart, largest first', () => {
    expect(groups(['P/a/1.mov', 'Q/a/1.mov'], ['P/b/1.mov', 'R/b/1.mov']).map(({ to }) => to)).toEqual([
      'R/b/1.mov',
      'Q/a/1.mov',
    ]);
  });
});
