import { matchesGlob } from 'node:path/posix';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compileGlob, compileIgnore } from '../../../src/core/intake/glob.ts';
import { runs } from '../../effort.ts';

const MILLISECONDS = 1;

describe('whole paths', () => {
  test.each([
    ['*', 'Saltmarsh', true],
    ['*', 'Saltmarsh/Day 1', false],
    ['*/*', 'Saltmarsh/Day 1', true],
    ['**', 'a/b/c', true],
    ['a/**', 'a', true],
    ['a/**/z', 'a/z', true],
    ['a/**/z', 'a/b/c/z', true],
    ['a/**/z', 'a/b/c', false],
    ['**/x/**/y', 'x/x/y', true],
    ['A00?.mov', 'A001.mov', true],
    ['A00?.mov', 'A00🎬.mov', true],
    ['A00?.mov', 'A0012.mov', false],
    ['*.MOV', 'a.mov', false],
    ['*a*b*c*', 'xxaxxbxxcxx', true],
    ['*a*b*c*', 'xxcxxbxxaxx', false],
    ['[a]', 'a', false],
    ['[a]', '[a]', true],
    ['a.b', 'axb', false],
    ['caf\u00e9/*', 'cafe\u0301/x', true],
    ['', '', true],
    ['', 'a', false],
  ])('%j against %j: %j', (pattern, path, expected) => {
    expect(compileGlob(pattern).matches(path)).toBe(expected);
  });
});

describe('patterns of what is left out', () => {
  test.each([
    ['*.bak', 'a/b/x.bak', true],
    ['*.bak', 'a/x.bak/inside.mov', true],
    ['Old', 'a/Old/x.mov', true],
    ['Old', 'a/Older/x.mov', false],
    ['a/Old', 'a/Old/x.mov', true],
    ['a/Old', 'b/a/Old/x.mov', false],
    ['/Old', 'Old/x.mov', true],
    ['/Old', 'a/Old/x.mov', false],
    ['Old/', 'a/Old/x.mov', true],
    ['a/*/Old/', 'a/b/Old', true],
    ['**/Old/*.mov', 'a/b/Old/x.mov', true],
  ])('%j against %j: %j', (pattern, path, expected) => {
    expect(compileIgnore(pattern).matches(path)).toBe(expected);
  });
});

/** Node's own matcher as an outside reference; only where both mean the same: no brackets, braces, dots or escapes. */
test('agrees with the matcher of node:path', () => {
  const name = fc.string({ unit: fc.constantFrom('a', 'b', 'c'), minLength: 1, maxLength: 5 });
  const part = fc.oneof(
    fc.string({ unit: fc.constantFrom('a', 'b', '*', '?'), minLength: 1, maxLength: 5 }),
    fc.constant('**'),
  );
  const clean = part.filter((text) => text === '**' || !text.includes('**'));
  fc.assert(
    fc.property(
      fc.array(clean, { minLength: 1, maxLength: 4 }),
      fc.array(name, { minLength: 1, maxLength: 5 }),
      (parts, names) => {
        // `a/**` does not take `a` itself there.
        fc.pre(parts.at(-1) !== '**' || parts.length === 1);
        const pattern = parts.join('/');
        const path = names.join('/');
        expect([pattern, path, compileGlob(pattern).matches(path)]).toEqual([
          pattern,
          path,
          matchesGlob(path, pattern),
        ]);
      },
    ),
    { numRuns: runs(3000) },
  );
});

test('no pattern makes it slow', () => {
  const started = performance.now();
  const long = 'a'.repeat(4000);
  expect(compileGlob(`${'*a'.repeat(100)}b`).matches(long)).toBe(false);
  expect(compileGlob(`${'**/a/'.repeat(100)}b`).matches('a/'.repeat(2000))).toBe(false);
  expect(performance.now() - started).toBeLessThan(1500 * MILLISECONDS);
});
