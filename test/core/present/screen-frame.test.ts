import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { dressed, frame } from '../../../src/core/present/screen-frame.ts';
import { wrap } from '../../../src/core/present/text.ts';
import { Terminal } from './terminal.ts';

function drawn(texts: readonly string[], columns: number, rows: number): string[] {
  const terminal = new Terminal(columns, rows);
  for (const text of texts) terminal.write(frame(text, { columns, rows }));
  return terminal.lines();
}

describe('a frame', () => {
  test('takes the place of the one before, whatever stood there', () => {
    expect(drawn(['stripe, /media/stripe\nSpeed     Yes\nCapacity  600 GB\n', 'stripe\n\nNo\n'], 22, 4)).toEqual([
      'stripe',
      '',
      'No',
      '',
    ]);
  });

  test('a line that fills its row keeps its last letter, in the last row too', () => {
    expect(drawn(['xxxxxxxxxx\nxxxxxxxxxx\n', 'Saltmarsh.\nSaltmarsh.\n'], 10, 2)).toEqual([
      'Saltmarsh.',
      'Saltmarsh.',
    ]);
    expect(drawn(['xxxxxxxxxx\nxxxxxxxxxx\nxx\n', 'Saltmarsh.\n'], 10, 3)).toEqual(['Saltmarsh.', '', '']);
  });

  test('what does not fit is counted; a long address goes on in the next row', () => {
    expect(drawn(['a\nb\nc\nd\n'], 48, 3)).toEqual(['a', 'b', '(2 more lines: make the window larger)']);
    expect(drawn(['a\nhttp://127.0.0.1:4717/\n'], 12, 3)).toEqual(['a', 'http://127.0', '.0.1:4717/']);
    expect(drawn(['a\nhttp://127.0.0.1:4717/\n'], 12, 2)).toEqual(['a', '(1 mo...ger)']);
  });

  test('of any text and size the first lines stand where they belong, and nothing scrolls', () => {
    const texts = fc.array(fc.array(fc.stringMatching(/^[a-z ]{0,30}$/), { minLength: 1, maxLength: 8 }), {
      minLength: 1,
      maxLength: 3,
    });
    fc.assert(
      fc.property(texts, fc.integer({ min: 31, max: 40 }), fc.integer({ min: 2, max: 9 }), (screens, columns, rows) => {
        const lines = drawn(
          screens.map((screen) => `${screen.join('\n')}\n`),
          columns,
          rows,
        );
        const last = (screens.at(-1) ?? []).map((line) => line.trimEnd());
        // Empty lines at the end of a text are none of it.
        const shown = last.length <= rows ? last : last.slice(0, rows - 1);
        expect(lines.slice(0, shown.length)).toEqual(shown);
      }),
    );
  });
});

test('bold is the severity at the start of a line, and it stays a word', () => {
  expect(dressed('WARNING  stripe: full')).toBe('\x1b[1mWARNING\x1b[m  stripe: full');
  expect(dressed('OLD: stored 5 min ago')).toBe('\x1b[1mOLD\x1b[m: stored 5 min ago');
  for (const line of ['  WARNING', 'WARNINGS', 'stripe, /media/WARNING', '']) expect(dressed(line)).toBe(line);
  expect(wrap('\x1b[2J', 20, 'WARNING  ').map(dressed)).toEqual(['\x1b[1mWARNING\x1b[m  \\x1b[2J']);
});
