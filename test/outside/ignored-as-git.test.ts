import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { devNull, tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, describe, expect, test } from 'vitest';
import { ignoreMatcher } from '../../src/core/backup/mhl-ignore.ts';
import { runs } from '../effort.ts';

/** Patterns of media hash lists are those of gitignore: git itself is asked. */
const folder = mkdtempSync(join(tmpdir(), 'headroomd-ignored-'));
const env = { ...process.env, GIT_CONFIG_GLOBAL: devNull, GIT_CONFIG_SYSTEM: devNull };
spawnSync('git', ['init', '-q', '--template=', folder], { env });
afterAll(() => rmSync(folder, { recursive: true }));

function byGit(patterns: readonly string[], paths: readonly string[]): string[] {
  writeFileSync(join(folder, '.gitignore'), `${patterns.join('\n')}\n`);
  const done = spawnSync('git', ['check-ignore', '--no-index', '-z', '--stdin'], {
    cwd: folder,
    env,
    input: paths.map((path) => `${path}\0`).join(''),
    encoding: 'utf8',
  });
  if (done.error !== undefined || (done.status !== 0 && done.status !== 1)) throw new Error(`git: ${done.stderr}`);
  return done.stdout.split('\0').filter((path) => path !== '');
}

function byUs(patterns: readonly string[], paths: readonly string[]): string[] {
  const isIgnored = ignoreMatcher(patterns);
  return paths.filter((path) => isIgnored(path, false));
}

const PATHS = ['a', 'b', 'ab', 'abc', '#a', '!a', 'a ', 'a]', 'a-', 'A'].flatMap((name) => [
  name,
  `a/${name}`,
  `b/a/${name}`,
  `ab/a/b/${name}`,
]);

describe('as git leaves out', () => {
  test.each([
    [['a']],
    [['a/']],
    [['/a']],
    [['b/a']],
    [['b/a/']],
    [['*']],
    [['*', '!a', '!b/']],
    [['a*c', '!abc']],
    [['**/a']],
    [['a/**']],
    [['ab/**/b']],
    [['**']],
    [['/**/b']],
    [['a/', '!a/b']],
    [['#a', '\\#a', '\\!a']],
    [['a ', 'a\\ ']],
    [['[!a]', 'a[b-]']],
    [['[a-b]b']],
    [['a[]]', '[', 'a\\']],
    [['/', '!', '']],
    [['.DS_Store', 'ascmhl', 'ascmhl/']],
  ])('%j', (patterns) => {
    expect(byUs(patterns, PATHS)).toEqual(byGit(patterns, PATHS));
  });

  test('any patterns', () => {
    const piece = fc.constantFrom(
      'a',
      'b',
      'ab',
      '*',
      '?',
      '[ab]',
      '[!a]',
      '[a-c]',
      ']',
      '!',
      '\\',
      '\\*',
      '#',
      ' ',
      '-',
    );
    const word = fc.array(piece, { minLength: 1, maxLength: 4 }).map((pieces) => pieces.join(''));
    // No bracket that a slash could come into. Two stars within a word are one by the manual; git itself takes some of them for more, depending on what stands before.
    const name = fc.oneof({ weight: 4, arbitrary: word.filter((text) => !text.includes('**')) }, fc.constant('**'));
    const names = fc
      .array(name, { minLength: 1, maxLength: 3 })
      .filter((all) => !all.slice(0, -1).some((one) => one.endsWith('\\')));
    const pattern = fc
      .tuple(fc.constantFrom('', '', '!', '/', '!/'), names, fc.constantFrom('', '', '/'))
      .map(([before, parts, after]) => before + parts.join('/') + after);
    fc.assert(
      fc.property(fc.array(pattern, { minLength: 1, maxLength: 3 }), (patterns) => {
        expect(byUs(patterns, PATHS)).toEqual(byGit(patterns, PATHS));
      }),
      { numRuns: runs(300) },
    );
  });
});

test('no pattern makes it slow', () => {
  const isIgnored = ignoreMatcher([`${'*a'.repeat(2000)}b`, `${'**/a/'.repeat(500)}b`]);
  const began = performance.now();
  expect(isIgnored(`${'a/'.repeat(1000)}${'a'.repeat(250)}`, false)).toBe(false);
  // A second is a thousand times what it takes, and nothing to what going back from every star would.
  expect(performance.now() - began).toBeLessThan(10_000);
});
