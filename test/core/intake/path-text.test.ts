import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  baseName,
  dirName,
  extension,
  fromBytes,
  hasEscapes,
  joinPath,
  stem,
  toUtf8,
} from '../../../src/core/intake/path-text.ts';
import { runs } from '../../effort.ts';

const bytes = (...values: number[]) => Uint8Array.from(values);
const utf8 = (text: string) => new TextEncoder().encode(text);
const LONE_SURROGATE = /[\uD800-\uDFFF]/u;

describe('names that are valid UTF-8 stay as they are', () => {
  test.each([
    'A001C001.mov',
    'Übung',
    'cafe\u0301',
    '日本',
    '🎬.mov',
    'new\nline',
    '\u001b[31m',
    '\ufeffbom.wav',
    'a\ufffdb',
  ])('%j', (name) => {
    expect(fromBytes(utf8(name))).toBe(name);
    expect(toUtf8(name)).toEqual(utf8(name));
    expect(hasEscapes(name)).toBe(false);
  });
});

describe('bytes that are no UTF-8 become one private character each', () => {
  test.each([
    ['Latin-1 e acute', bytes(0x63, 0x61, 0x66, 0xe9), 'caf\uf7e9'],
    ['lone continuation', bytes(0x80), '\uf780'],
    ['0xff', bytes(0xff), '\uf7ff'],
    // RFC 3629 section 4 and 10: overlong forms, surrogates and values above U+10FFFF are not UTF-8.
    ['overlong slash', bytes(0xc0, 0xaf), '\uf7c0\uf7af'],
    ['overlong three-byte', bytes(0xe0, 0x80, 0xaf), '\uf7e0\uf780\uf7af'],
    ['surrogate half', bytes(0xed, 0xa0, 0x80), '\uf7ed\uf7a0\uf780'],
    ['above U+10FFFF', bytes(0xf4, 0x90, 0x80, 0x80), '\uf7f4\uf790\uf780\uf780'],
    ['cut at the end', bytes(0x61, 0xe2, 0x82), 'a\uf7e2\uf782'],
    ['valid after invalid', bytes(0xff, 0xc3, 0xbc), '\uf7ff\u00fc'],
    ['a genuine character of the escape range', utf8('\uf7e9'), '\uf7ef\uf79f\uf7a9'],
  ])('%s', (_name, raw, text) => {
    expect(fromBytes(raw)).toBe(text);
    expect(toUtf8(text)).toEqual(raw);
    expect(hasEscapes(text)).toBe(true);
  });
});

describe('properties', () => {
  const anyName = fc.oneof(
    fc.uint8Array({ maxLength: 64 }),
    fc.string({ unit: 'binary', maxLength: 24 }).map(utf8),
    // Near the edges of the escape range, where a mistake would show.
    fc
      .array(fc.constantFrom(0xee, 0xef, 0x9e, 0x9f, 0x80, 0xbf, 0xf0, 0x61), { maxLength: 16 })
      .map((all) => bytes(...all)),
  );

  test('bytes come back exactly, with no lone surrogate on the way', () => {
    fc.assert(
      fc.property(anyName, (raw) => {
        const text = fromBytes(raw);
        expect(toUtf8(text)).toEqual(raw);
        expect(LONE_SURROGATE.test(text)).toBe(false);
        expect(JSON.parse(JSON.stringify(text))).toBe(text);
      }),
      { numRuns: runs(2000) },
    );
  });

  test('the folder of a path can be read before or after decoding', () => {
    const name = anyName
      .map((raw) => raw.filter((byte) => byte !== 0x2f && byte !== 0))
      .filter((raw) => raw.length > 0);
    fc.assert(
      fc.property(name, name, (dir, file) => {
        const path = fromBytes(bytes(...dir, 0x2f, ...file));
        expect(dirName(path)).toBe(fromBytes(dir));
        expect(baseName(path)).toBe(fromBytes(file));
        expect(joinPath(dirName(path), baseName(path))).toBe(path);
      }),
    );
  });
});

describe('parts of a path', () => {
  test.each([
    ['Saltmarsh/Day 1/A001.MOV', 'Saltmarsh/Day 1', 'A001.MOV', 'mov', 'A001'],
    ['A001.mov', '', 'A001.mov', 'mov', 'A001'],
    ['a/.hidden', 'a', '.hidden', '', '.hidden'],
    ['a.b/noext', 'a.b', 'noext', '', 'noext'],
    ['a/two.dots.wav', 'a', 'two.dots.wav', 'wav', 'two.dots'],
    ['a/ends.', 'a', 'ends.', '', 'ends'],
  ])('%s', (path, dir, name, ext, base) => {
    expect([dirName(path), baseName(path), extension(path), stem(path)]).toEqual([dir, name, ext, base]);
  });
});
