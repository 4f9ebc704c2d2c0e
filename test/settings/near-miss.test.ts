import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { editDistance, nearMiss } from '../../src/settings/near-miss.ts';

/** The definition of the optimal string alignment distance, as a plain recursion: slow, and by another way than the code. */
function byDefinition(a: string, b: string): number {
  if (a === '' || b === '') return Math.max(a.length, b.length);
  const same = a.at(-1) === b.at(-1) ? 0 : 1;
  const candidates = [
    byDefinition(a.slice(0, -1), b) + 1,
    byDefinition(a, b.slice(0, -1)) + 1,
    byDefinition(a.slice(0, -1), b.slice(0, -1)) + same,
  ];
  if (a.length > 1 && b.length > 1 && a.at(-1) === b.at(-2) && a.at(-2) === b.at(-1)) {
    candidates.push(byDefinition(a.slice(0, -2), b.slice(0, -2)) + 1);
  }
  return Math.min(...candidates);
}

describe('edit distance', () => {
  test.each([
    // Textbook pairs (Levenshtein 1966 and later literature, from memory): kitten/sitting 3; ca/abc 3 in the restricted form.
    ['kitten', 'sitting', 3],
    ['ca', 'abc', 3],
    ['prot', 'port', 1],
    ['', 'abc', 3],
    ['same', 'same', 0],
    ['🎬a', 'a🎬', 1],
  ])('%s to %s', (a, b, slips) => {
    expect(editDistance(a, b)).toBe(slips);
  });

  test('is what its definition says', () => {
    const word = fc.string({ unit: fc.constantFrom('a', 'b', 'c'), maxLength: 6 });
    fc.assert(
      fc.property(word, word, (a, b) => {
        expect(editDistance(a, b)).toBe(byDefinition(a, b));
      }),
    );
  });
});

describe('near miss', () => {
  const known = ['name', 'path', 'projects', 'reserve', 'speed', 'speed_reserve', 'warn', 'debug'];

  test.each([
    ['reserv', 'reserve'],
    ['Speed-Reserve', 'speed_reserve'],
    ['project', 'projects'],
    ['nmae', 'name'],
    ['PATH', 'path'],
    ['warning', 'warn'],
    ['nope', null],
    ['colour', null],
    ['x', null],
    ['', null],
    ['constructor', null],
  ])('%s', (written, meant) => {
    expect(nearMiss(written, known)).toBe(meant);
  });

  test('one slip in any known name is found again', () => {
    const names = ['projects', 'reserve', 'ingest', 'quiet_remote'];
    fc.assert(
      fc.property(fc.constantFrom(...names), fc.nat(20), fc.constantFrom('x', ''), (name, at, by) => {
        const index = at % name.length;
        expect(nearMiss(name.slice(0, index) + by + name.slice(index + 1), names)).toBe(name);
      }),
    );
  });
});
