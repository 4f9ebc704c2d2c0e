import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { riffStructure } from '../../../../src/core/intake/container/riff-structure.ts';
import { runs } from '../../../effort.ts';
import { avi, bitmap, oldIndex, partIndex, properties, streamHeader, superIndex } from './avi-files.ts';
import { dpx } from './dpx-files.ts';
import { ascii, clip, clips, join, le32 } from './media.ts';
import { chunk, expectSane, le64, list, look, riff } from './riff-files.ts';
import { bext, data, ds64, format, ixml, speed, wave } from './wave-files.ts';

const noted = ixml(
  `<SCENE>12</SCENE><TAKE>3</TAKE><TAPE>FEN07</TAPE><FILE_SET><FAMILY_UID>F1</FAMILY_UID></FILE_SET>${speed({
    rate: '30000/1001',
    flag: 'DF',
    high: '0',
    low: '1775520000',
    perSecond: '48000',
  })}<TRACK_LIST><TRACK_COUNT>2</TRACK_COUNT></TRACK_LIST>`,
);
const header = bext({ description: 'sSCENE=12', date: '2027-02-11', time: '10:16:30', reference: 1_775_520_000 });

function longWave(): Uint8Array {
  const body = join(format(), header, ascii('data'), le32(0xffff_ffff), new Uint8Array(600).fill(7), noted);
  const table = [['iXML', noted.length - 8]] as const;
  return join(ascii('RF64'), le32(0xffff_ffff), ascii('WAVE'), ds64(4 + 48 + body.length, 600, 100, table), body);
}

function openDml(): Uint8Array {
  const streams = (at: number) => [
    [
      streamHeader({ length: 2 }),
      bitmap(320, 180),
      properties([16, 9], 320, 180, 2),
      superIndex([{ at, length: 48, frames: 2 }]),
    ],
  ];
  const movie = join(chunk('00dc', new Uint8Array(600)), partIndex([300, 300]));
  const at = avi({ streams: streams(0), total: 2, movie }).length - 48;
  return avi({
    streams: streams(at),
    total: 2,
    movie,
    behind: [
      oldIndex([
        ['00dc', 300],
        ['00dc', 300],
      ]),
    ],
  });
}

const [frame = { name: '', bytes: new Uint8Array(0) }] = clips('dpx');
const sources: readonly { name: string; bytes: Uint8Array }[] = [
  { name: 'SM12-T003.WAV', bytes: clip('SM12-T003.WAV') },
  { name: 'tape07_scene13.avi', bytes: clip('tape07_scene13.avi') },
  frame,
  { name: 'notes.wav', bytes: wave([header], [noted]) },
  { name: 'ahead.wav', bytes: wave([header, noted]) },
  { name: 'long.wav', bytes: longWave() },
  { name: 'parts.avi', bytes: openDml() },
  {
    name: 'header.dpx',
    bytes: dpx({ filmRate: 24, televisionRate: 24, timecode: 0x10163005, date: '2027:03:03:10:16:30' }),
  },
];

/** The look at a damaged file: told what it is called when it fails, and measured. */
function survive(bytes: Uint8Array, name: string): void {
  const start = performance.now();
  const { structure, reads } = look(bytes, name);
  expectSane(structure);
  // Blocks of 4 KiB: a damaged file is read once at most, some blocks in two steps.
  expect(reads).toBeLessThanOrEqual(Math.ceil(bytes.length / 2048) + 4);
  expect(performance.now() - start).toBeLessThan(1000);
}

test('none of them is damaged yet', () => {
  for (const { name, bytes } of sources) expect([name, look(bytes, name).structure.troubles]).toEqual([name, []]);
});

describe('one byte of the first 64', () => {
  test.each(sources.map(({ name }) => name))('%s', (name) => {
    const source = sources.find((one) => one.name === name)?.bytes ?? new Uint8Array(0);
    // The magic itself decides who reads: that is for `recognise`.
    for (let at = 4; at < 64; at += 1) {
      const bytes = source.slice();
      const before = bytes[at] ?? 0;
      for (const value of [0, 0x7f, 0xff, ...Array.from({ length: 8 }, (_, bit) => before ^ (1 << bit))]) {
        bytes[at] = value;
        survive(bytes, name);
      }
    }
  });
});

describe('damaged at random', () => {
  const magics = ['RIFF', 'RF64', 'BW64', 'SDPX', 'XPDS'];
  const edit = fc.record({
    at: fc.double({ min: 0, max: 1, noNaN: true }),
    bytes: fc.uint8Array({ minLength: 1, maxLength: 9 }),
  });
  const share = fc.oneof(fc.constant(1), fc.double({ min: 0, max: 1, noNaN: true }));

  test('headers, notes and indexes with wrong bytes, and cut', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...sources),
        fc.array(edit, { minLength: 1, maxLength: 8 }),
        share,
        (file, edits, part) => {
          const bytes = file.bytes.slice(0, Math.max(64, Math.ceil(file.bytes.length * part)));
          for (const [index, { at, bytes: patch }] of edits.entries()) {
            const room = index % 2 === 0 ? Math.min(4096, bytes.length) : bytes.length;
            bytes.set(patch, Math.max(4, Math.min(bytes.length - patch.length, Math.floor(at * room))));
          }
          survive(bytes, file.name);
        },
      ),
      { numRuns: runs(1500), seed: 20_270_211 },
    );
  });

  test('lengths of chunks replaced by lengths that lie', () => {
    const lie = fc.constantFrom(0, 1, 3, 4, 7, 8, 0x7fff_ffff, 0x8000_0000, 0xffff_fffe, 0xffff_ffff);
    const names = /RIFF|LIST|fmt |bext|data|iXML|ds64|avih|strh|strf|indx|ix00|idx1|vprp|dmlh/g;
    const targets = sources.map(({ name, bytes }) => {
      const text = String.fromCharCode(...bytes.subarray(0, 16_384));
      return { name, bytes, places: [...text.matchAll(names)].map(({ index }) => index + 4) };
    });
    const lies = fc.array(fc.tuple(fc.nat(30), lie), { minLength: 1, maxLength: 3 });
    fc.assert(
      fc.property(fc.constantFrom(...targets.filter(({ places }) => places.length > 0)), lies, (file, told) => {
        const bytes = file.bytes.slice();
        for (const [which, length] of told) bytes.set(le32(length), file.places[which % file.places.length]);
        survive(bytes, file.name);
      }),
      { numRuns: runs(300), seed: 20_270_211 },
    );
  });

  test('random bytes behind every magic', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...magics),
        fc.constantFrom('WAVE', 'AVI ', 'AVIX'),
        fc.uint8Array({ maxLength: 400 }),
        (magic, form, rest) => {
          survive(join(ascii(magic), le32(rest.length + 4), ascii(form), rest), 'a.wav');
        },
      ),
      { numRuns: runs(600), seed: 20_270_211 },
    );
  });

  test('notes of random tags', () => {
    const word = fc.constantFrom(
      '<',
      '>',
      '/',
      '</',
      '<BWFXML>',
      '</BWFXML>',
      '<SCENE>',
      '</SCENE>',
      '<SPEED>',
      '<!--',
      '-->',
      '<![CDATA[',
      ']]>',
      '<?',
      '?>',
      '&amp;',
      '&',
      'ä',
      ' ',
      '\0',
      '12',
      '<TAKE/>',
      '<TAKE a="b">',
    );
    fc.assert(
      fc.property(fc.array(word, { maxLength: 40 }), (words) => {
        survive(wave([], [chunk('iXML', new TextEncoder().encode(words.join('')))]), 'a.wav');
      }),
      { numRuns: runs(600), seed: 20_270_211 },
    );
  });
});

describe('made to take long', () => {
  const quick = (bytes: Uint8Array, name = 'a.wav') => {
    const start = performance.now();
    const { structure, reads } = look(bytes, name);
    expect(performance.now() - start).toBeLessThan(1000);
    expectSane(structure);
    return reads;
  };

  test.each([
    '<',
    '<a>',
    '</a>',
    '<!--',
    '<![CDATA[',
    '<?',
    '&amp;',
    '<a ',
    '>',
    '<a b="',
    '<SCENE>&amp;',
    '<BWFXML><SCENE>x',
  ])('a mebibyte of %s', (words) => {
    const text = `<BWFXML><SCENE>${words.repeat(Math.floor(1_048_000 / words.length))}`;
    const notes = join(ascii('iXML'), le32(text.length), new Uint8Array(0));
    const file = new Uint8Array(12 + 24 + 8 + 600 + 8 + text.length);
    file.set(join(ascii('RIFF'), le32(file.length - 8), ascii('WAVE'), format(), data(600), notes));
    file.set(new TextEncoder().encode(text), file.length - text.length);
    quick(file);
  });

  test('a hundred thousand chunks, near and far', () => {
    for (const step of [8, 5000]) {
      const file = new Uint8Array(step * (step === 8 ? 100_000 : 4000));
      file.set(join(ascii('RIFF'), le32(file.length - 8), ascii('WAVE')));
      const one = join(ascii('junk'), le32(step - 8));
      for (let at = 12; at + 8 <= file.length; at += step) file.set(one, at);
      expect(quick(file)).toBeLessThan(2200);
    }
  });

  test('lists of headers in lists of headers', () => {
    const streams = Array.from({ length: 120 }, () =>
      list('strl', ...Array.from({ length: 40 }, () => chunk('strn', []))),
    );
    expect(quick(riff('AVI ', ...Array.from({ length: 5 }, () => list('hdrl', ...streams))), 'a.avi')).toBeLessThan(
      100,
    );
  });

  test('counts of all ones', () => {
    const file = openDml();
    const index = file.length - 2 * 16 - 8 - 48;
    expect(String.fromCharCode(...file.subarray(index, index + 4))).toBe('ix00');
    file.fill(0xff, index + 12, index + 16);
    quick(file, 'a.avi');
    expect(look(file).structure.troubles).toEqual([
      `there is no index of a part at byte ${index.toLocaleString('en')}`,
    ]);
    const table = join(le64(2 ** 53), le64(600), le64(100), le32(0xffff_ffff), new Uint8Array(24).fill(0xff));
    quick(join(ascii('RF64'), le32(0xffff_ffff), ascii('WAVE'), chunk('ds64', table), format(), data(600)));
  });
});

test('an error of the file passes through, wherever it strikes', () => {
  const { bytes } = sources[3] ?? frame;
  expect(() =>
    riffStructure((position, length) => {
      if (position > 100) throw new Error('EIO: i/o error, read');
      return bytes.subarray(position, position + length);
    }, bytes.length),
  ).toThrow('EIO');
});
