import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseSettings } from '../../src/settings/parse.ts';
import { parseTree, placeOf, plainValue } from '../../src/settings/position.ts';
import type { SettingsProblem } from '../../src/settings/settings.ts';
import { runs } from '../effort.ts';
import { HOME, wrongCases, wrongText } from './configuration-file.ts';

function problemsOf(text: string): SettingsProblem[] {
  const result = parseSettings(text, { homeDir: HOME });
  return result.ok ? [] : result.problems;
}

describe('places', () => {
  test('of values, keys and headers, in characters', () => {
    const tree = parseTree('[[volume]]\n  name = "a"\nspeed = { "🎬" = 1, b = [2, 3] }\n');
    const volume = tree.entries.get('volume');
    const first = volume?.kind === 'list' ? volume.items[0] : undefined;
    const speed = first?.kind === 'table' ? first.entries.get('speed') : undefined;
    const list = speed?.kind === 'table' ? speed.entries.get('b') : undefined;
    expect(first?.at).toEqual({ line: 1, column: 1 });
    expect(volume?.keyAt).toEqual({ line: 1, column: 3 });
    expect(speed).toMatchObject({ keyAt: { line: 3, column: 1 }, at: { line: 3, column: 9 } });
    // The emoji is one character to a person, two units to JavaScript.
    expect(list).toMatchObject({ keyAt: { line: 3, column: 20 }, at: { line: 3, column: 24 } });
    expect(list?.kind === 'list' && list.items[1]?.at).toEqual({ line: 3, column: 28 });
  });

  test('a place and an index say the same', () => {
    fc.assert(
      fc.property(
        fc.array(fc.string({ unit: fc.constantFrom('a', 'é', '🎬', ' ') }), { minLength: 1 }),
        fc.nat(),
        (lines, at) => {
          const line = at % lines.length;
          const index = lines.slice(0, line).join('\n').length + (line === 0 ? 0 : 1);
          const characters = [...(lines[line] ?? '')];
          const cut = characters.slice(0, Math.floor(characters.length / 2)).join('');
          expect(placeOf(lines.join('\n'), index + cut.length)).toEqual({
            line: line + 1,
            column: [...cut].length + 1,
          });
        },
      ),
    );
  });

  // The value tree of the TOML specification's own examples (toml.io, "Array of Tables" and "Dotted keys").
  test('tables, arrays of tables and dotted keys nest as the specification says', () => {
    const text =
      '[[fruits]]\nname = "apple"\n[fruits.physical]\ncolor = "red"\n[[fruits.varieties]]\nname = "red delicious"\n[[fruits.varieties]]\nname = "granny smith"\n[[fruits]]\nname = "banana"\nphysical.shape = "round"\n';
    expect(JSON.parse(JSON.stringify(plainValue(parseTree(text))))).toEqual({
      fruits: [
        { name: 'apple', physical: { color: 'red' }, varieties: [{ name: 'red delicious' }, { name: 'granny smith' }] },
        { name: 'banana', physical: { shape: 'round' } },
      ],
    });
  });
});

/** Lines before which another may stand: none of these files has a value over several lines. */
function withInserted(text: string, inserted: ReadonlyMap<number, readonly string[]>, lineEnd: string): string {
  const lines = text.replace(/^\uFEFF/, '').split(/\r?\n/);
  return lines.flatMap((line, index) => [...(inserted.get(index + 1) ?? []), line]).join(lineEnd);
}

describe('lines put in between', () => {
  const filler = fc.constantFrom('', '   ', '# a comment', '\t# "quotes" = [and] { brackets', '# 🎬');

  test('move every reported line by their number, and change nothing else', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...wrongCases),
        fc.array(fc.tuple(fc.integer({ min: 1, max: 40 }), fc.array(filler, { maxLength: 3 })), { maxLength: 6 }),
        fc.constantFrom('\n', '\r\n'),
        fc.boolean(),
        (name, places, lineEnd, mark) => {
          const inserted = new Map(places);
          const moved = (line: number) => {
            const before = [...inserted].filter(([at]) => at <= line).reduce((sum, [, lines]) => sum + lines.length, 0);
            return line + before;
          };
          const text = wrongText(name);
          const expected = problemsOf(text).map((problem) => ({
            ...problem,
            line: problem.line === null ? null : moved(problem.line),
            found: problem.found.replace(/on line (\d+)/, (_, line) => `on line ${moved(Number(line))}`),
          }));
          expect(problemsOf(`${mark ? '\uFEFF' : ''}${withInserted(text, inserted, lineEnd)}`)).toEqual(expected);
        },
      ),
      { numRuns: runs(500) },
    );
  });
});
