import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { display, displayOrNull, pathInJson, terminalJson } from '../../../src/core/present/escape.ts';
import { runs } from '../../effort.ts';

describe('display', () => {
  test.each([
    ['plain', 'Tidewater Sessions/A001.mov', 'Tidewater Sessions/A001.mov'],
    ['accents, other scripts and emoji', 'Größe/潮/صوت/🎬', 'Größe/潮/صوت/🎬'],
    ['the joiner that emoji and Persian names need', 'نمی\u200cخواهم', 'نمی\u200cخواهم'],
    ['a newline', 'a\nb', 'a\\nb'],
    ['an escape sequence', '\u001b[2J\u0007', '\\x1b[2J\\x07'],
    ['delete and a tab', '\u007f\t', '\\x7f\\x09'],
    ['a C1 control, told from a byte', '\u009b2J', '\\u{9b}2J'],
    ['bytes that were no UTF-8', 'caf\uf7e9\uf780', 'caf\\xe9\\x80'],
    ['bidi overrides', '\u202egpj.vom\u2066', '\\u{202e}gpj.vom\\u{2066}'],
    ['zero-width and tag characters', 'a\u200bb\u{e0041}', 'a\\u{200b}b\\u{e0041}'],
    ['line separators', '\u2028\u2029', '\\u{2028}\\u{2029}'],
    ['half a surrogate pair', '\ud800x', '\\u{d800}x'],
  ])('%s', (_, text, shown) => expect(display(text)).toBe(shown));

  // Named by number, so that the test does not share the code's own classes. C0, DEL, C1: ISO 6429. Bidi: UAX #9, 2.
  test('lets nothing through that a terminal obeys or reorders by', () => {
    fc.assert(
      fc.property(hostileText, (text) => {
        for (const character of display(text)) {
          const code = character.codePointAt(0) ?? 0;
          const control = code < 0x20 || (code >= 0x7f && code <= 0x9f);
          const bidi = code === 0x61c || code === 0x200e || code === 0x200f || (code >= 0x202a && code <= 0x202e);
          const isolate = code >= 0x2066 && code <= 0x2069;
          const byte = code >= 0xf780 && code <= 0xf7ff;
          expect({ code, unsafe: control || bidi || isolate || byte }).toEqual({ code, unsafe: false });
        }
      }),
      { numRuns: runs(500) },
    );
  });

  test('done twice changes nothing more', () => {
    fc.assert(fc.property(hostileText, (text) => display(display(text)) === display(text)));
  });

  test('unknown stays unknown', () => {
    expect(displayOrNull(null)).toBeNull();
    expect(displayOrNull('a\n')).toBe('a\\n');
  });
});

describe('JSON', () => {
  test('holds a path as it is, but for bytes that were no UTF-8', () => {
    expect(pathInJson('P/a\n\u001b\uf7e9.mov')).toBe('P/a\n\u001b\\xe9.mov');
  });

  test('for a terminal has no raw control and parses to the same value', () => {
    fc.assert(
      fc.property(fc.array(hostileText), fc.constantFrom(0, 2), (texts, indent) => {
        const json = terminalJson({ texts }, indent);
        expect(JSON.parse(json)).toEqual({ texts });
        expect([...json].filter((character) => character !== '\n').join('')).toBe(display(json.replaceAll('\n', '')));
      }),
    );
    expect(terminalJson({ name: '\u009b\u{e0041}' }, 0)).toBe('{"name":"\\u009b\\udb40\\udc41"}');
  });
});

/** Text in which dangerous characters are frequent. */
const hostileText = fc
  .array(
    fc.oneof(
      fc.string({ unit: 'binary' }),
      fc.integer({ min: 0, max: 0xffff }).map((code) => String.fromCharCode(code)),
      fc.integer({ min: 0, max: 0xa0 }).map((code) => String.fromCharCode(code)),
      fc.integer({ min: 0x2000, max: 0x2070 }).map((code) => String.fromCharCode(code)),
      fc.integer({ min: 0xf770, max: 0xf810 }).map((code) => String.fromCharCode(code)),
    ),
  )
  .map((parts) => parts.join(''));
