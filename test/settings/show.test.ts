import fc from 'fast-check';
import { parseTOML } from 'toml-eslint-parser';
import { describe, expect, test } from 'vitest';
import { quoted, quotedShort, visible } from '../../src/settings/show.ts';

describe('visible', () => {
  test.each([
    ['a\nb\tc', 'a\\nb\\tc'],
    ['\u001b[2J', '\\u001B[2J'],
    ['\u009b', '\\u009B'],
    ['\u202Egpj.exe', '\\u202Egpj.exe'],
    ['line\u2028', 'line\\u2028'],
    ['\u{E0001}', '\\U000E0001'],
    ['🎬 Höhle 水', '🎬 Höhle 水'],
  ])('%j', (text, shown) => {
    expect(visible(text)).toBe(shown);
  });

  test('leaves nothing that a terminal acts on', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (text) => {
        expect(visible(text)).not.toMatch(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/u);
      }),
    );
  });
});

describe('quoted', () => {
  test('is a TOML string that reads as the same text', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (text) => {
        const pair = parseTOML(`a = ${quoted(text)}`).body[0].body[0];
        expect(pair?.type === 'TOMLKeyValue' && pair.value.type === 'TOMLValue' && pair.value.value).toBe(text);
      }),
    );
  });

  test('is cut where nobody reads on', () => {
    expect(quotedShort('x'.repeat(61))).toBe(`"${'x'.repeat(60)}"... (61 characters)`);
    expect(quotedShort('x'.repeat(60))).toBe(`"${'x'.repeat(60)}"`);
  });
});
