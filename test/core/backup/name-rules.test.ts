import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { foldedName, refusedName } from '../../../src/core/backup/name-rules.ts';
import { fromBytes } from '../../../src/core/intake/path-text.ts';

describe('any bytes', () => {
  test('255 bytes and no more, counted as UTF-8 (NAME_MAX of Linux, limits.h)', () => {
    expect(refusedName('a'.repeat(255), 'bytes')).toBeNull();
    expect(refusedName('a'.repeat(256), 'bytes')).toContain('256');
    expect(refusedName('\u00e9'.repeat(127), 'bytes')).toBeNull();
    expect(refusedName('\u00e9'.repeat(128), 'bytes')).toContain('256');
  });

  test('what restricted file systems refuse is kept', () => {
    for (const name of ['con', 'end.', 'a:b?', 'tab\t', fromBytes(Uint8Array.of(0x41, 0xff))])
      expect(refusedName(`Saltmarsh/${name}`, 'bytes')).toBeNull();
  });

  test.each(['', '/a', 'a//b', 'a/', '../a', 'a/../b', './a', 'a\0b'])('%j is no plain path', (path) => {
    expect(refusedName(path, 'bytes')).not.toBeNull();
    expect(refusedName(path, 'restricted')).not.toBeNull();
  });
});

describe('restricted', () => {
  /** exFAT specification 7.7.3, table "Invalid FileName Characters": U+0000 to U+001F, and these nine. */
  const INVALID = ['"', '*', '/', ':', '<', '>', '?', '\\', '|'];
  test('exactly the characters that the exFAT specification forbids', () => {
    for (let code = 0x20; code < 0x80; code++) {
      const character = String.fromCharCode(code);
      // A slash parts names; a full stop or a space may not be the last.
      if (character === '/') continue;
      expect(refusedName(`a${character}b`, 'restricted') !== null, character).toBe(INVALID.includes(character));
    }
    for (let code = 0; code < 0x20; code++)
      expect(refusedName(`a${String.fromCharCode(code)}b`, 'restricted'), `${code}`).not.toBeNull();
  });

  /** "Naming Files, Paths, and Namespaces" (learn.microsoft.com/windows/win32/fileio/naming-a-file): also with an extension, in any case. */
  const DEVICES = ['CON', 'PRN', 'AUX', 'NUL', 'COM1', 'COM9', 'LPT1', 'LPT9', 'COM\u00b9', 'LPT\u00b3'];
  test.each(DEVICES)('%s stands for a device', (name) => {
    for (const one of [name, name.toLowerCase(), `${name}.mov`, `${name}.tar.gz`, `Saltmarsh/${name}/a.mov`])
      expect(refusedName(one, 'restricted'), one).not.toBeNull();
    for (const one of [`${name}x.mov`, `A${name}`, 'COM0', 'COM10', 'LPT', 'console.mov'])
      expect(refusedName(one, 'restricted'), one).toBeNull();
  });

  /** The same page: "Do not end a file or directory name with a space or a period." */
  test('a full stop or a space at the end', () => {
    for (const one of ['take 1.', 'take 1 ', 'day 1./a.mov', '...a. '])
      expect(refusedName(one, 'restricted')).not.toBeNull();
    for (const one of ['.hidden', 'a.b', ' a']) expect(refusedName(one, 'restricted')).toBeNull();
  });

  /** exFAT specification 7.7.3: at most 255 Unicode characters, as UTF-16 units. */
  test('255 units, and what is no text', () => {
    expect(refusedName('a'.repeat(255), 'restricted')).toBeNull();
    expect(refusedName('a'.repeat(256), 'restricted')).not.toBeNull();
    expect(refusedName(fromBytes(Uint8Array.of(0x41, 0xff)), 'restricted')).toContain('UTF-8');
  });
});

describe('names that may be one file', () => {
  test('by case, and by composition (NFC and NFD of Unicode Standard Annex 15)', () => {
    expect(foldedName('A001.MOV')).toBe(foldedName('a001.mov'));
    expect(foldedName('caf\u00e9')).toBe(foldedName('cafe\u0301'));
    expect(foldedName('CAFE\u0301')).toBe(foldedName('caf\u00e9'));
    // Both are one lower-case letter's capitals (SpecialCasing.txt, from memory).
    expect(foldedName('\u03c2')).toBe(foldedName('\u03c3'));
    expect(foldedName('a001.mov')).not.toBe(foldedName('a002.mov'));
  });

  test('folding twice changes nothing more, and neither do case and composition before it', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (text) => {
        const name = text.toWellFormed();
        expect(foldedName(foldedName(name))).toBe(foldedName(name));
        expect(foldedName(name.normalize('NFD'))).toBe(foldedName(name));
      }),
    );
  });
});
