import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { parseSettings } from '../../src/settings/parse.ts';
import { HOME, wrongCases, wrongText } from '../settings/configuration-file.ts';

/**
 * One file for each mistake, named after it; beside it the problems that must be told, all of them and in the order of
 * the file. A new mistake is a new pair of files; nothing in the project writes the expected one, so that a person reads it.
 */
describe('wrong configurations', () => {
  test('there are cases', () => {
    expect(wrongCases.length).toBeGreaterThanOrEqual(20);
  });

  test.each(wrongCases)('%s', (name) => {
    const expected = new URL(`${name}.expected.json`, import.meta.url);
    expect(existsSync(expected), `${name}.expected.json says what must be told`).toBe(true);
    const problems: unknown = JSON.parse(readFileSync(expected, 'utf8'));
    expect(problems).not.toEqual([]);
    expect(parseSettings(wrongText(name), { homeDir: HOME })).toEqual({ ok: false, problems });
  });

  test.each(wrongCases)('%s: every place told really holds what was found', (name) => {
    const result = parseSettings(wrongText(name), { homeDir: HOME });
    const lines = wrongText(name)
      .replace(/^\uFEFF/, '')
      .split(/\r?\n/);
    for (const { line, column, found } of result.ok ? [] : result.problems) {
      if (line === null || column === null) continue;
      const rest = [...(lines[line - 1] ?? '')].slice(column - 1).join('');
      // A scalar is shown as it is written, if it is short and holds nothing to escape.
      const scalar = /^("[^"\\]{1,50}"|-?[\d.]+|true|false)/.exec(found)?.[0];
      if (scalar !== undefined) expect(rest.startsWith(scalar) || rest.startsWith(scalar.slice(1, -1))).toBe(true);
      else expect(line).toBeLessThanOrEqual(lines.length);
    }
  });

  test('no message is left in the words of a library', () => {
    for (const name of wrongCases) {
      const result = parseSettings(wrongText(name), { homeDir: HOME });
      for (const problem of result.ok ? [] : result.problems) {
        expect(problem.expected).not.toMatch(/invalid input|too (small|big)|unrecognized|\[object|undefined|TOML \(/i);
      }
    }
  });
});
