import { describe, expect, test } from 'vitest';
import { atom, be64, bytes, keyed, movie, namedText, patched, structureOf, track } from './bmff-build.ts';

/** Values are those of the clauses named; ISO/IEC 14496-12 where none is, QTFF for the QuickTime File Format. */

describe('metadata', () => {
  const of = (...boxes: Uint8Array[]) => {
    const { camera, reel, createdAt } = structureOf(movie([track(), ...boxes]));
    return { camera, reel, createdAt };
  };
  const none = { camera: null, reel: null, createdAt: null };

  test('keys, in the QuickTime and the ISO form of the box, of the movie and of its user data', () => {
    const told = {
      'com.apple.quicktime.make': 'Fenwork',
      'com.apple.quicktime.model': 'Marram 4',
      'com.apple.quicktime.creationdate': '2027-02-12T13:01:00+0100',
      reel_name: 'A004',
    };
    const expected = { camera: 'Fenwork Marram 4', reel: 'A004', createdAt: '2027-02-12T13:01:00+01:00' };
    expect(of(keyed(told))).toEqual(expected);
    expect(of(keyed(told, 'iso'))).toEqual(expected);
    expect(of(atom('udta', keyed(told, 'iso'), [0, 0, 0, 0]))).toEqual(expected);
  });

  test('a model that begins with its maker is not told twice; a maker alone is no camera', () => {
    expect(of(keyed({ make: 'Fenwork', model: 'FENWORK Marram' })).camera).toBe('FENWORK Marram');
    expect(of(keyed({ make: 'Fenwork' }))).toEqual(none);
    expect(of(keyed({ model: 'Marram' })).camera).toBe('Marram');
  });

  // QTFF, Well-Known Types: 1 is UTF-8, 2 is UTF-16, 21 a number.
  test('text of other kinds', () => {
    const value = (kind: number, ...content: number[]) => {
      const file = keyed({ model: 'abcd' });
      const at = file.findIndex((_, index) => String.fromCharCode(...file.subarray(index, index + 4)) === 'abcd');
      file.set(content, at);
      return of(patched(file, [at - 8, kind])).camera;
    };
    expect(value(2, 0x30, 0x42, 0x30, 0x44)).toBe('\u3042\u3044');
    expect(value(21, 0, 0, 0, 5)).toBeNull();
    // 0x8a is an a with dots in the Macintosh's set, and no UTF-8.
    expect(value(1, 0x53, 0x8a, 0x67, 0x65)).toBe('S\u00e4ge');
    expect(value(1, 0x53, 7, 0x67, 0x65)).toBeNull();
  });

  test('keys that are cut, or more than there are values', () => {
    const file = keyed({ make: 'Fenwork', model: 'Marram' });
    const at = file.findIndex((_, index) => String.fromCharCode(...file.subarray(index, index + 4)) === 'keys');
    expect(of(patched(file, [at + 12, 3]))).toEqual(none);
    expect(of(atom('meta', atom('hdlr', 0, 0, 'mdir')))).toEqual(none);
  });

  test('user data text of older files; keys count first', () => {
    const texts = atom('udta', namedText('\xa9mak', 'Fenwork'), namedText('\xa9mod', 'Marram 2'), [0, 0, 0, 0]);
    expect(of(texts).camera).toBe('Fenwork Marram 2');
    expect(of(texts, keyed({ model: 'Marram 9' })).camera).toBe('Fenwork Marram 9');
  });

  test('a lens is no camera', () => {
    expect(of(keyed({ 'org.example.lens.make': 'Glas', 'org.example.lens.model': 'G 50' }))).toEqual(none);
  });

  test('what is no box in user data is no damage', () => {
    const odd = structureOf(movie([track(), atom('udta', 0x7fff_ffff, 'abcd', 1, 2, 3)]));
    expect(odd.troubles).toEqual([]);
  });

  test('what names a program is no camera', () => {
    expect(of(keyed({ 'com.apple.quicktime.software': 'Wrapper 3', encoder: 'Mux 1', constructor: 'x' }))).toEqual(
      none,
    );
    expect(of(atom('udta', namedText('\xa9swr', 'Wrapper 3'), namedText('\xa9too', 'Mux 1')))).toEqual(none);
  });

  // 8.2.2: seconds from 1904-01-01 UTC; 2,082,844,800 of them to 1970.
  const unix = 2_082_844_800;
  /** By the calendar of the runtime. */
  const since1904 = (date: string) => unix + Date.parse(date) / 1000;
  test.each([
    ['unset', 0, null],
    ["Unix's epoch", unix, null],
    ['a clock that counts from 1970', 1_802_000_000, null],
    ['a day', since1904('2027-02-07T09:06:39Z'), '2027-02-07T09:06:39Z'],
    ['a leap day', since1904('2028-02-29T23:59:59Z'), '2028-02-29T23:59:59Z'],
    ['the day after', since1904('2028-03-01T00:00:00Z'), '2028-03-01T00:00:00Z'],
    ['the end of a year', since1904('2031-12-31T12:00:00Z'), '2031-12-31T12:00:00Z'],
    ['the last that fits', 0xffff_ffff, '2040-02-06T06:28:15Z'],
  ])('date of the movie header: %s', (_, created, expected) => {
    expect(structureOf(movie([track()], { created })).createdAt).toBe(expected);
  });

  test('64-bit date; nonsense in it', () => {
    const dated = (seconds: number) => {
      const file = movie([track()]);
      const header = bytes('mvhd', 0x0100_0000, be64(seconds), be64(0), 1000, be64(0));
      const at = file.findIndex((_, index) => String.fromCharCode(...file.subarray(index, index + 4)) === 'mvhd');
      file.set(header, at);
      return structureOf(file).createdAt;
    };
    expect(dated(since1904('2027-02-07T09:06:39Z'))).toBe('2027-02-07T09:06:39Z');
    expect(dated(2 ** 50)).toBeNull();
  });

  test("the camera's own date before the container's; one that is none does not hide it", () => {
    const created = since1904('2027-02-07T09:06:39Z');
    const own = (date: string) => structureOf(movie([track(), keyed({ creationdate: date })], { created })).createdAt;
    expect(own('2026-12-31T23:59:59-0800')).toBe('2026-12-31T23:59:59-08:00');
    expect(own('yesterday')).toBe('2027-02-07T09:06:39Z');
  });
});
