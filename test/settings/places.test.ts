import { posix } from 'node:path';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  holds,
  parseFolderBelow,
  parseFolderName,
  parseName,
  parsePath,
  parsePattern,
  placePath,
} from '../../src/settings/places.ts';

describe('paths', () => {
  test.each([
    ['/media/stripe', '/media/stripe'],
    ['/media//stripe/', '/media/stripe'],
    ['/media/x/../stripe/.', '/media/stripe'],
    ['~/footage', '/home/editor/footage'],
    ['~', '/home/editor'],
    ['~/', '/home/editor'],
    ['/', '/'],
    ['/media/~/x', '/media/~/x'],
    ['/Tidewater Sessions/🎬', '/Tidewater Sessions/🎬'],
  ])('%s', (written, plain) => {
    expect(parsePath(written)).toEqual({ ok: true, value: written });
    expect(placePath(written, '/home/editor')).toBe(plain);
  });

  test.each(['', 'media', './x', '~editor/x', '$HOME/x', ' /media', '/a\0b'])('refuses "%s"', (written) => {
    expect(parsePath(written).ok).toBe(false);
  });

  test('one folder holds another exactly when the way from it does not lead up', () => {
    const folder = fc.array(fc.constantFrom('a', 'ab', 'b'), { maxLength: 4 }).map((names) => `/${names.join('/')}`);
    fc.assert(
      fc.property(folder, folder, (outer, inner) => {
        expect(holds(outer, inner)).toBe(!posix.relative(outer, inner).startsWith('..'));
      }),
    );
  });
});

describe('names', () => {
  test.each(['stripe', 'Tidewater Sessions', 'Höhle', '水', 'a'.repeat(64)])('takes "%s"', (text) => {
    expect(parseName(text)).toEqual({ ok: true, value: text });
  });

  test.each(['', ' a', 'a ', 'a\nb', 'a\u001b[2J', 'a\u202Eb', 'a'.repeat(65)])('refuses %j', (text) => {
    expect(parseName(text).ok).toBe(false);
  });
});

describe('folders below a volume', () => {
  test.each([
    ['Footage', 'Footage'],
    ['./Footage/', 'Footage'],
    ['Day 1/../Day 2', 'Day 2'],
  ])('%s', (written, plain) => {
    expect(parseFolderBelow(written)).toEqual({ ok: true, value: plain });
  });

  test.each(['', '.', '..', '../x', 'a/../../x', '/x', '~/x'])('refuses "%s"', (written) => {
    expect(parseFolderBelow(written).ok).toBe(false);
  });

  test('a first-level folder has no slash but a final one', () => {
    expect(parseFolderName('renders/')).toEqual({ ok: true, value: 'renders' });
    expect(parseFolderName('renders/final').ok).toBe(false);
    expect(parseFolderName('..').ok).toBe(false);
  });

  test('a pattern stays below', () => {
    expect(parsePattern('**/Scratch/**').ok).toBe(true);
    expect(parsePattern('a..b/*').ok).toBe(true);
    expect(parsePattern('x/../../*').ok).toBe(false);
    expect(parsePattern('/x').ok).toBe(false);
  });
});
