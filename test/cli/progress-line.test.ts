import { expect, test } from 'vitest';
import { processIo } from '../../src/cli/io.ts';
import { progressLine } from '../../src/cli/progress-line.ts';
import { Terminal } from '../core/present/terminal.ts';

function told(terminal: { isTTY: boolean; columns: number; env?: Record<string, string> }, silent = false): string {
  let text = '';
  const stream = {
    ...terminal,
    rows: 2,
    write: (some: string) => {
      text += some;
    },
  };
  const io = processIo({ stdout: stream, stderr: stream, env: terminal.env ?? {} }, '/', 'UTC');
  const line = progressLine(io, { silent });
  line.tell('stripe to shelf-a: 1 of 2000 files');
  line.tell('stripe \x1b[2J\n');
  line.tell('Tidewater Sessions '.repeat(5));
  line.end();
  return text;
}

test('is one line, drawn over, and gone at the end', () => {
  const text = told({ isTTY: true, columns: 20 });
  expect(text).not.toContain('\n');
  const terminal = new Terminal(20, 2);
  terminal.write(text.slice(0, text.lastIndexOf('\r')));
  expect(terminal.lines()).toEqual(['Tidewate...essions', '']);
  terminal.write(text.slice(text.lastIndexOf('\r')));
  expect(terminal.lines()).toEqual(['', '']);
  expect(text).toContain('\rstripe \\x1b[2J\\n\x1b[K');
});

test('nothing of it in a pipe, on a dumb terminal, or beside JSON', () => {
  expect(told({ isTTY: false, columns: 80 })).toBe('');
  expect(told({ isTTY: true, columns: 80, env: { TERM: 'dumb' } })).toBe('');
  expect(told({ isTTY: true, columns: 80 }, true)).toBe('');
});

test('a terminal that tells no size has 80 columns; an empty NO_COLOR says nothing', () => {
  const stream = { isTTY: true, columns: 0, rows: 0, write: () => true };
  const io = (env: Record<string, string>) => processIo({ stdout: stream, stderr: stream, env }, '/', 'UTC');
  expect(io({})).toMatchObject({ columns: 80, rows: null, colour: true, redraws: true });
  expect(io({ NO_COLOR: '' })).toMatchObject({ colour: true });
  expect(io({ NO_COLOR: '1' })).toMatchObject({ colour: false, redraws: true });
  expect(io({ TERM: 'dumb' })).toMatchObject({ colour: false, redraws: false, tellsProgress: false });
});
