import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parsePlaylist } from '../../../src/core/intake/playlist.ts';
import { playlist } from './playlist-bytes.ts';

// What a reader of such files printed of one camera's list of two, in a public thread (forum.videohelp.com 296805): the
// bytes behind the name from the connection on, and that the second spans on from the first.
const FIRST = { name: '00000M2TS', item: [0x01, 0x00, 0x00, 0x00, 0x97, 0x2c, 0x03, 0x87, 0xff, 0x0c] };
const SECOND = { name: '00001M2TS', item: [0x06, 0x00, 0x03, 0x87, 0xff, 0x0c, 0x06, 0x17] };
const FRESH = { name: '00002M2TS', item: [0x05] };

describe('an AVCHD playlist', () => {
  test('tells which stream goes on with the one before', () => {
    expect(parsePlaylist(playlist([FIRST, SECOND, FRESH]))).toEqual([
      { clip: '00000', begins: 'list' },
      { clip: '00001', begins: 'continuation' },
      { clip: '00002', begins: 'recording' },
    ]);
    expect(parsePlaylist(playlist([]))).toEqual([]);
  });

  test('the first begins the list, whatever it says', () => {
    expect(parsePlaylist(playlist([SECOND]))).toEqual([{ clip: '00001', begins: 'list' }]);
  });

  test('a file inside a larger piece of memory', () => {
    const whole = new Uint8Array(1000);
    const list = playlist([FIRST, SECOND]);
    whole.set(list, 300);
    expect(parsePlaylist(whole.subarray(300, 300 + list.length))).toEqual(parsePlaylist(list));
  });

  test.each([
    ['empty', new Uint8Array()],
    ['another file', playlist([FIRST], { magic: 'INDX0100' })],
    ['items behind the end', playlist([FIRST], { start: 10_000 })],
    ['items in the header', playlist([FIRST], { start: 4 })],
    ['a name that is none', playlist([{ ...FIRST, name: 'clip1M2TS' }])],
    ['a connection that nobody knows', playlist([{ ...FIRST, item: [0x03] }])],
    ['cut', playlist([FIRST, SECOND]).subarray(0, 0x3a + 10 + 82 + 20)],
  ])('%s: nothing is told', (_name, bytes) => {
    expect(parsePlaylist(bytes)).toBe(null);
  });

  test('an item that promises more than there is, or less than it must hold', () => {
    for (const length of [0, 10, 300, 65_535]) {
      const bytes = playlist([FIRST, SECOND]);
      new DataView(bytes.buffer).setUint16(0x3a + 10, length);
      expect(parsePlaylist(bytes)).toBe(null);
    }
  });

  test('an item too short for what it must hold, and more items than there are', () => {
    const short = playlist([FIRST]);
    new DataView(short.buffer).setUint16(0x3a + 10, 5);
    expect(parsePlaylist(short)).toBe(null);
    const many = playlist([FIRST, SECOND]).slice(0, 0x3a + 10 + 2 * 82);
    new DataView(many.buffer).setUint32(0x3e, 3);
    expect(parsePlaylist(many)).toBe(null);
  });

  test('whatever the bytes, it ends and does not throw', () => {
    const good = playlist([FIRST, SECOND, FRESH]);
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.nat(good.length - 1), fc.nat(255)), { maxLength: 8 }),
        fc.nat(400),
        (edits, cut) => {
          const bytes = good.slice(0, cut);
          for (const [at, value] of edits) if (at < bytes.length) bytes[at] = value;
          const items = parsePlaylist(bytes);
          expect(items === null || items.every(({ clip }) => /^\d{5}$/.test(clip))).toBe(true);
        },
      ),
    );
  });
});
