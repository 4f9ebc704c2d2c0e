import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { generationNumber, manifestName } from '../../../src/core/backup/manifest-file-name.ts';
import { escapeXml, pathForList } from '../../../src/core/backup/mhl-text.ts';
import { dateTimeOf, dateTimeOfNs } from '../../../src/core/backup/mhl-time.ts';
import { fromBytes } from '../../../src/core/intake/path-text.ts';

describe('paths that a list can have', () => {
  test.each<[string, Uint8Array | string, object]>([
    ['plain', 'Clips/A001.mov', { text: 'Clips/A001.mov' }],
    ['of any script, with quotes and spaces at the ends', ' caf\u00e9 "🎬" <&> ', { text: ' caf\u00e9 "🎬" <&> ' }],
    ['a backslash and a colon', 'a\\b:c', { text: 'a\\b:c' }],
    ['line feed, return, tab', 'a\nb\rc\td', { text: 'a\nb\rc\td' }],
    ['genuine characters of the range that stands for bytes', '\uf799.mov', { text: '\uf799.mov' }],
    ['Latin-1', Uint8Array.of(0x63, 0xe9), { unwritable: 'not-utf-8' }],
    ['half a character', Uint8Array.of(0xf0, 0x9f), { unwritable: 'not-utf-8' }],
    // XML 1.0, production Char.
    ['a control character', 'a\u0001', { unwritable: 'not-xml' }],
    ['escape', 'a\u001b[31m', { unwritable: 'not-xml' }],
    ['U+FFFE', 'a\ufffe', { unwritable: 'not-xml' }],
    ['U+FFFF', 'a\uffff', { unwritable: 'not-xml' }],
    ['nothing', '', { unwritable: 'no-path' }],
    ['the root', '/', { unwritable: 'no-path' }],
    ['absolute', '/etc/passwd', { unwritable: 'no-path' }],
    ['out of the folder', 'a/../../b', { unwritable: 'no-path' }],
    ['two slashes', 'a//b', { unwritable: 'no-path' }],
  ])('%s', (_, name, answer) => {
    expect(pathForList(fromBytes(typeof name === 'string' ? Buffer.from(name) : name))).toEqual(answer);
  });

  test('a text that is no path of bytes is refused', () => {
    expect(pathForList('\ud800')).toEqual({ unwritable: 'not-utf-8' });
  });

  test('of any bytes: written as they are, or refused', () => {
    fc.assert(
      fc.property(fc.uint8Array({ minLength: 1, maxLength: 12 }), (bytes) => {
        const answer = pathForList(fromBytes(bytes));
        if ('text' in answer) expect([...Buffer.from(answer.text)]).toEqual([...bytes]);
      }),
    );
  });

  test('markup and what readers would change is escaped; what XML cannot have is replaced in other texts', () => {
    expect(escapeXml('a & <b> "c"\n\r\t\u0001')).toBe('a &amp; &lt;b&gt; &quot;c&quot;&#xA;&#xD;&#x9;\ufffd');
  });
});

describe('names of manifests', () => {
  const START = Date.UTC(2027, 2, 4, 23, 59, 59, 999);

  test('number, folder, day and second in UTC', () => {
    expect(manifestName(1, 'Tidewater Sessions', START)).toBe('0001_Tidewater Sessions_2027-03-04_235959Z.mhl');
    expect(manifestName(12_345, 'a', START)).toBe('12345_a_2027-03-04_235959Z.mhl');
    expect(manifestName(2, '', START)).toBe('0002_root_2027-03-04_235959Z.mhl');
  });

  test('a folder with the longest name gives a name that a file can have, cut between characters', () => {
    const name = manifestName(1, '🎬'.repeat(63), START);
    expect(Buffer.from(name).length).toBeLessThanOrEqual(255);
    expect(Buffer.from(name).length).toBeGreaterThan(250);
    expect(name).toMatch(/^0001_(?:🎬)+_2027-03-04_235959Z\.mhl$/u);
  });

  test('numbers are read back', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 10_000_000 }), fc.string({ unit: 'grapheme' }), (number, folder) => {
        expect(generationNumber(manifestName(number, folder, START))).toBe(number);
      }),
    );
    for (const other of ['ascmhl_chain.xml', '0000_a.mhl', '1_a.mhl', '0001.mhl', '0001_a.txt', '.0001_a.mhl.part']) {
      expect(generationNumber(other), other).toBeNull();
    }
  });
});

describe('times', () => {
  test('in UTC with their offset, as XML Schema 1.0 has them', () => {
    expect(dateTimeOf(Date.UTC(2020, 0, 16, 9, 15))).toBe('2020-01-16T09:15:00+00:00');
    expect(dateTimeOfNs(1_579_166_100_123_456_789n)).toBe('2020-01-16T09:15:00.123456+00:00');
    expect(dateTimeOfNs(-1n)).toBe('1969-12-31T23:59:59.999999+00:00');
  });

  test('a year that it cannot write is not told', () => {
    expect(dateTimeOfNs(253_402_300_799_999_999_999n)).toBe('9999-12-31T23:59:59.999999+00:00');
    expect(dateTimeOfNs(253_402_300_800_000_000_000n)).toBeNull();
    expect(dateTimeOfNs(-62_135_596_800_000_000_000n)).toBe('0001-01-01T00:00:00+00:00');
    expect(dateTimeOfNs(-62_135_596_800_000_000_001n)).toBeNull();
    expect(() => dateTimeOf(1e15)).toThrow(RangeError);
  });
});
