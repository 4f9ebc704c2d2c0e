import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { display } from '../../../src/core/present/escape.ts';
import { bar, cell, columns, shorten, wrap } from '../../../src/core/present/text.ts';

describe('columns', () => {
  // UAX #11, East Asian Width: W and F take two columns.
  test.each([
    ['A001', 4],
    ['潮', 2],
    ['Ａ', 2],
    ['한', 2],
    ['🎬', 2],
    ['é', 1],
    // Not assigned, but in blocks where even that is W.
    ['\uFADA', 2],
    ['', 0],
  ])('%s takes %d', (text, count) => expect(columns(text)).toBe(count));

  test('combining marks and half-width kana are overcounted rather than let a line run over', () => {
    expect(columns('e\u0301')).toBe(2);
    expect(columns('ｱ')).toBe(2);
  });
});

describe('shorten', () => {
  test('keeps both ends', () => {
    expect(shorten('A001C001_270304_R1AB.mov', 15)).toBe('A001C0...AB.mov');
    expect(shorten('short.mov', 15)).toBe('short.mov');
    expect(shorten('A001.mov', 2)).toBe('..');
    expect(shorten('A001.mov', 0)).toBe('');
  });

  test('escapes first', () => expect(shorten('a\nb', 10)).toBe('a\\nb'));

  test('never takes more than it may; a cell takes exactly that', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), fc.integer({ min: 0, max: 40 }), (text, width) => {
        expect(columns(shorten(text, width))).toBeLessThanOrEqual(width);
        expect(columns(cell(text, width, 'right'))).toBe(width);
      }),
    );
  });

  test('a cell is filled on the side it is not aligned to', () => {
    expect(cell('ab', 4)).toBe('ab  ');
    expect(cell('ab', 4, 'right')).toBe('  ab');
  });
});

describe('wrap', () => {
  test('breaks at spaces and indents as far as its lead', () => {
    expect(wrap('one two three four', 12, '- ')).toEqual(['- one two', '  three four']);
    expect(wrap('', 10, '- ')).toEqual(['- ']);
  });

  test('cuts a word that is longer than the line', () => {
    expect(wrap('ab abcdefghij k', 6)).toEqual(['ab', 'abcdef', 'ghij k']);
  });

  test('keeps a figure and its unit together', () => {
    expect(wrap('leaves 345 GB at 2 MB/s for 3 h 05 min', 10)).toEqual([
      'leaves',
      '345 GB at',
      '2 MB/s for',
      '3 h 05 min',
    ]);
    expect(wrap('take 3 Bs', 6)).toEqual(['take 3', 'Bs']);
  });

  test('loses nothing and never runs over', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme' }), fc.integer({ min: 10, max: 40 }), (text, width) => {
        const lines = wrap(text, width, '  - ');
        for (const line of lines) expect(columns(line)).toBeLessThanOrEqual(width);
        const content = lines.map((line) => line.slice(4)).join('');
        expect(content.replaceAll(' ', '')).toBe(display(text).replaceAll(' ', ''));
      }),
    );
  });
});

describe('bar', () => {
  test.each([
    [5, 8, 10, '=====...|.'],
    [10, 8, 10, '========|='],
    [0, 10, 10, '.........|'],
    [20, 5, 10, '=====|===='],
    [-1, -1, 10, '|.........'],
  ])('%d against %d of %d', (value, limit, end, drawn) => expect(bar(value, limit, end, 10)).toBe(drawn));
});
