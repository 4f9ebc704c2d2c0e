import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { wholeness } from '../../../../src/core/intake/container/wholeness.ts';
import { runs } from '../../../effort.ts';
import { ascii, be32, box, clip, clips, join, judge, judgeCounting, le32, preallocated } from './media.ts';

const provable = clips('mov', 'mp4', 'mxf', 'wav', 'dpx');
const everything = clips('mov', 'mp4', 'mxf', 'wav', 'dpx', 'avi', 'dv');

describe('real encodes', () => {
  test('there are some of each kind', () => {
    for (const ending of ['mov', 'mp4', 'mxf', 'wav', 'dpx', 'avi', 'dv']) {
      expect([ending, clips(ending).length]).not.toEqual([ending, 0]);
    }
  });

  test.each(provable.map(({ name }) => name))('%s is whole', (name) => {
    expect(judge(clip(name), name)).toEqual({ verdict: 'whole', detail: null });
  });

  test('what has no structure is said to have none', () => {
    for (const { name, bytes } of clips('avi', 'dv')) expect(judge(bytes, name).verdict).toBe('no-structure');
  });

  test('no more than 8 reads and 64 KiB for a clip', () => {
    for (const { name, bytes } of provable) {
      const { reads, read } = judgeCounting(bytes, name);
      expect([name, reads <= 8, read <= 65_536]).toEqual([name, true, true]);
    }
  });
});

describe('cut short', () => {
  // Every cut point of a small file; of a larger one every 97th and all of the last 600 (pack, index, trailing boxes).
  test.each(provable.map(({ name }) => name))('%s is not whole at any cut', (name) => {
    const bytes = clip(name);
    const dense = bytes.length < 70_000 ? 0 : bytes.length - 600;
    for (let length = 0; length < bytes.length; length += length < dense ? 97 : 1) {
      const { verdict } = judge(bytes.subarray(0, length), name);
      if (verdict !== 'cut' && verdict !== 'empty') {
        expect([name, length, verdict]).toEqual([name, length, 'no-structure']);
        // The two places where the rest is optional by the standard, or a filler: before the pack of an MXF, and the
        // last byte of a RIFF file.
        expect(name.toLowerCase()).toMatch(/mxf$|wav$/);
      }
    }
  });

  test.each([
    ['C0001.MXF', 200_000, 'more than'],
    ['tidewater-a.mov', 50_000, 'at least'],
  ])('says how much there is, and how much there must be: %s', (name, length, amount) => {
    const bytes = clip(name);
    const { verdict, detail } = judge(bytes.subarray(0, length), name);
    expect(verdict).toBe('cut');
    expect(detail).toMatch(new RegExp(`^${length.toLocaleString('en')} of ${amount} [\\d,]+ bytes are there$`));
    const stated = Number(detail?.match(/ ([\d,]+) bytes/)?.[1]?.replaceAll(',', ''));
    expect(stated).toBeGreaterThan(length);
    expect(stated).toBeLessThanOrEqual(bytes.length);
  });

  test('says it of a sound in the words of its header', () => {
    const sound = clip('SM12-T003.WAV');
    expect(judge(sound.subarray(0, 100_000), 'SM12-T003.WAV')).toEqual({
      verdict: 'cut',
      detail: `the header states ${sound.length.toLocaleString('en')} bytes, the file has 100,000`,
    });
  });

  test('counts what is too little to tell', () => {
    const bytes = clip('tidewater-a.mov');
    expect(judge(bytes.subarray(0, 1), 'a.mov').detail).toBe('it has a single byte');
    expect(judge(bytes.subarray(0, 7), 'a.mov').detail).toBe('it has only 7 bytes');
  });

  test('a picture frame with its last byte missing', () => {
    const [frame] = clips('dpx');
    const bytes = frame?.bytes ?? new Uint8Array(0);
    expect(judge(bytes.subarray(0, -1), 'x.dpx')).toEqual({
      verdict: 'cut',
      detail: `the frame has ${(bytes.length - 1).toLocaleString('en')} of ${bytes.length.toLocaleString('en')} bytes`,
    });
  });
});

describe('room reserved and half written', () => {
  test.each(clips('mov', 'mp4', 'mxf').map(({ name }) => name))('%s', (name) => {
    const bytes = clip(name);
    expect(judge(preallocated(bytes, Math.floor(bytes.length / 2)), name).verdict).toBe('unwritten');
  });

  test('the index in front and complete: the missing picture shows it', () => {
    const name = 'lock-keepers_review.mp4';
    const bytes = clip(name);
    for (const share of [0.2, 0.5, 0.9]) {
      const { verdict, detail } = judge(preallocated(bytes, Math.floor(bytes.length * share)), name);
      expect([share, verdict, detail?.slice(0, 17)]).toEqual([share, 'unwritten', 'room was reserved']);
    }
  });

  test('sound that ends in zeros may be silence: no claim either way', () => {
    const wav = clip('SM12-T003.WAV');
    expect(judge(preallocated(wav, Math.floor(wav.length / 2)), 'SM12-T003.WAV').verdict).toBe('no-structure');
  });

  test('nothing written yet', () => {
    for (const name of ['a.mov', 'a.mxf', 'a.wav', 'a.mts', 'a.dv']) {
      expect(judge(new Uint8Array(100_000), name).verdict).toBe('unwritten');
    }
    expect(judge(new Uint8Array(100_000), 'disk.img').verdict).toBe('no-structure');
  });
});

describe('boxes (ISO/IEC 14496-12)', () => {
  const ftyp = box('ftyp', ascii('isom'), be32(0));
  const media = box('mdat', ascii('picture and sound'));
  const chunkTable = (offset: number) =>
    box('moov', box('trak', box('mdia', box('minf', box('stbl', box('stco', be32(0), be32(1), be32(offset)))))));

  test('index behind or in front of the media data', () => {
    expect(judge(join(ftyp, media, chunkTable(20)), 'a.mp4').verdict).toBe('whole');
    expect(judge(join(ftyp, chunkTable(90), media), 'a.mp4').verdict).toBe('whole');
  });

  test('an index that names media data behind the end of the file', () => {
    expect(judge(join(ftyp, media, chunkTable(5000)), 'a.mov')).toMatchObject({
      verdict: 'cut',
      detail: expect.stringContaining('byte 5,000 of'),
    });
  });

  test('64-bit size; media data without a stated end', () => {
    const large = join(be32(1), ascii('mdat'), be32(0), be32(24), ascii('abcdefgh'));
    expect(judge(join(ftyp, large, chunkTable(20)), 'a.mp4').verdict).toBe('whole');
    const open = join(be32(0), ascii('mdat'), ascii('picture and sound'));
    expect(judge(join(ftyp, chunkTable(90), open), 'a.mp4').verdict).toBe('no-structure');
    expect(judge(join(ftyp, open), 'a.mp4').verdict).toBe('cut');
  });

  test('index alone, media alone', () => {
    expect(judge(join(ftyp, chunkTable(20)), 'a.mp4').verdict).toBe('cut');
    expect(judge(join(ftyp, media), 'a.mp4').verdict).toBe('cut');
  });

  test('something behind a complete movie is no proof of a cut, nor of the whole', () => {
    const tail = Uint8Array.of(0xde, 0xad, 0xbe, 0xef, 1, 2, 3, 4, 5, 6);
    expect(judge(join(ftyp, media, chunkTable(20), tail), 'a.mov').verdict).toBe('no-structure');
    expect(judge(join(ftyp, media, tail), 'a.mov').verdict).toBe('cut');
  });

  test('movie fragments: whole with the table of fragments, unknown without, cut when media are missing', () => {
    const start = join(ftyp, box('moov', box('mvex')));
    const fragment = join(box('moof', be32(1)), media);
    const table = box('mfra', box('mfro', be32(0), be32(24)));
    expect(judge(join(start, fragment, fragment, table), 'a.mp4').verdict).toBe('whole');
    expect(judge(join(start, fragment, fragment), 'a.mp4').verdict).toBe('no-structure');
    expect(judge(join(start, fragment, box('moof', be32(2))), 'a.mp4').verdict).toBe('cut');
    expect(judge(start, 'a.mp4').verdict).toBe('cut');
  });

  test('ten thousand boxes and nesting without end come back', () => {
    const many = join(ftyp, ...Array.from({ length: 10_001 }, () => box('free')));
    expect(judge(many, 'a.mp4')).toEqual({ verdict: 'no-structure', detail: 'more boxes than are looked at' });
    let nested = box('stbl');
    for (let depth = 0; depth < 500; depth += 1) nested = box('trak', nested);
    expect(judge(join(ftyp, media, box('moov', nested)), 'a.mp4').verdict).toBe('whole');
  });
});

describe('sound headers', () => {
  const format = join(ascii('fmt '), le32(16), new Uint8Array(16).fill(1));
  const sound = (stated: number, bytes: number) => join(ascii('data'), le32(stated), new Uint8Array(bytes).fill(7));
  const riff = (stated: number, ...chunks: Uint8Array[]) => join(ascii('RIFF'), le32(stated), ascii('WAVE'), ...chunks);

  test('sizes that fit, and sizes that are not there while recording', () => {
    expect(judge(riff(4 + 24 + 8 + 100, format, sound(100, 100)), 'a.wav').verdict).toBe('whole');
    for (const open of [0, 0xffff_ffff]) {
      expect(judge(riff(open, format, sound(open, 100)), 'a.wav').verdict).toBe('cut');
      expect(judge(riff(4 + 24 + 8 + 100, format, sound(open, 100)), 'a.wav').verdict).toBe('cut');
    }
  });

  test('sound that runs past the end, grows behind the header, or is absent', () => {
    expect(judge(riff(4 + 24 + 8 + 100, format, sound(900, 100)), 'a.wav').verdict).toBe('cut');
    expect(judge(riff(4 + 24 + 8 + 60, format, sound(60, 100)), 'a.wav').verdict).toBe('no-structure');
    expect(judge(riff(4 + 24, format), 'a.wav').verdict).toBe('cut');
  });

  // EBU Tech 3306: the ds64 chunk holds the 64-bit sizes of the form, the sound and the sample count.
  test('RF64: the sizes of the ds64 chunk count', () => {
    const long = (form: number, data: number) =>
      join(
        ascii('RF64'),
        le32(0xffff_ffff),
        ascii('WAVEds64'),
        le32(28),
        le32(form),
        le32(0),
        le32(data),
        new Uint8Array(16),
      );
    const body = join(format, sound(0xffff_ffff, 100));
    expect(judge(join(long(4 + 36 + 24 + 8 + 100, 100), body), 'a.wav').verdict).toBe('whole');
    expect(judge(join(long(4 + 36 + 24 + 8 + 300, 300), body), 'a.wav').verdict).toBe('cut');
    expect(judge(join(long(0, 0), body), 'a.wav').verdict).toBe('cut');
  });
});

// SMPTE ST 314 and IEC 61834-2: a frame is 10 DIF sequences (525/60) or 12 (625/50) of 150 blocks of 80 bytes.
describe('raw DV', () => {
  const header = (flags: number) => join([0x1f, 7, 0, flags], new Uint8Array(76), [0x3f, 7, 0], new Uint8Array(77));
  const stream = (flags: number, size: number) => {
    const bytes = new Uint8Array(size).fill(0x55);
    bytes.set(header(flags).subarray(0, size));
    return bytes;
  };

  test('whole frames cannot tell whether there were more of them', () => {
    for (const bytes of [stream(0x3f, 120_000), stream(0x3f, 5 * 120_000), stream(0xbf, 3 * 144_000)])
      expect(judge(bytes, 'a.dv')).toEqual({ verdict: 'no-structure', detail: null });
    // A frame at 50 Mb/s is twice as large.
    expect(judge(stream(0xbf, 288_000), 'a.dv').verdict).toBe('no-structure');
  });

  test.each([
    [0x3f, 144_000, '24,000 of 120,000'],
    [0xbf, 120_000, '120,000 of 144,000'],
    [0x3f, 239_999, '119,999 of 120,000'],
    [0xbf, 288_001, '1 of 144,000'],
  ])('flags %i, %i bytes: cut in mid-frame', (flags, size, amount) => {
    expect(judge(stream(flags, size), 'a.dv')).toEqual({
      verdict: 'cut',
      detail: `the last frame has ${amount} bytes`,
    });
  });

  test('a real tape, cut anywhere but between two frames', () => {
    const bytes = clip('tape07_scene12.dv');
    expect(judge(bytes, 'a.dv').verdict).toBe('no-structure');
    for (const length of [160, 1000, 100_000, 143_999, 300_000, bytes.length - 1])
      expect([length, judge(bytes.subarray(0, length), 'a.dv').verdict]).toEqual([length, 'cut']);
  });
});

describe('MXF (SMPTE ST 377-1)', () => {
  const name = 'B001C001_270211.mxf';
  const packLength = (bytes: Uint8Array) => new DataView(bytes.buffer).getUint32(bytes.length - 4);

  test('a random index pack that leads nowhere', () => {
    const bytes = clip(name);
    bytes.fill(0, bytes.length - packLength(bytes) - 40, bytes.length - packLength(bytes));
    const view = new DataView(bytes.buffer);
    view.setBigUint64(bytes.length - 12, BigInt(bytes.length - packLength(bytes) - 20));
    expect(judge(bytes, name).verdict).toBe('cut');
  });

  test('a complete footer without the optional pack cannot tell', () => {
    const bytes = clip(name);
    expect(judge(bytes.subarray(0, bytes.length - packLength(bytes)), name).verdict).toBe('no-structure');
  });

  test('an open header without a footer is still being written', () => {
    const bytes = clip(name).subarray(0, 100_000);
    bytes[14] = 1;
    bytes.fill(0, 44, 52);
    expect(judge(bytes, name)).toMatchObject({ verdict: 'cut', detail: expect.stringContaining('still open') });
  });
});

describe('what is not what its name says', () => {
  test.each([
    ['notes.mov', 'This was meant to be a text file.\n', 'not-media'],
    ['notes.txt', 'A text file, and it says so.\n', 'no-structure'],
    ['sound.wav', '\x01\x02\x03\x04garbage that is no sound', 'not-media'],
    ['clip.mxf', '\x01\x02\x03\x04garbage that is no essence', 'not-media'],
    ['clip.r3d', '\x01\x02\x03\x04a format without a known structure', 'no-structure'],
    ['tiny.mp4', '\x00\x00', 'cut'],
    ['tiny.mov', 'to do', 'not-media'],
    ['tiny.wav', 'x\n', 'not-media'],
    ['tiny.wav', 'RIF', 'cut'],
    ['tiny.dpx', 'SD', 'cut'],
  ])('%s', (name, content, verdict) => {
    expect(judge(ascii(content), name).verdict).toBe(verdict);
  });

  test('zero length', () => {
    expect(judge(new Uint8Array(0), 'a.mov')).toEqual({ verdict: 'empty', detail: null });
  });

  test('an error of the reader passes through', () => {
    const failing = () => {
      throw new Error('EIO: i/o error, read');
    };
    expect(() => wholeness(failing, 100, 'a.mov')).toThrow('EIO');
  });
});

describe('damaged at random', () => {
  const source = fc.constantFrom(...everything);
  const edit = fc.record({
    at: fc.double({ min: 0, max: 1, noNaN: true }),
    bytes: fc.uint8Array({ minLength: 1, maxLength: 9 }),
  });

  test('never throws, never reads outside, always answers from the closed set', () => {
    fc.assert(
      fc.property(
        source,
        fc.array(edit, { minLength: 1, maxLength: 8 }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (file, edits, share) => {
          const bytes = file.bytes.slice(0, Math.ceil(file.bytes.length * share));
          // Half of the damage goes into the first 4 KiB, where sizes and offsets are.
          for (const [index, { at, bytes: patch }] of edits.entries()) {
            const room = index % 2 === 0 ? Math.min(4096, bytes.length) : bytes.length;
            bytes.set(
              patch.subarray(0, bytes.length),
              Math.max(0, Math.min(bytes.length - patch.length, Math.floor(at * room))),
            );
          }
          expect(['whole', 'cut', 'unwritten', 'empty', 'not-media', 'no-structure']).toContain(
            judge(bytes, file.name).verdict,
          );
        },
      ),
      { numRuns: runs(600) },
    );
  });

  test('random bytes behind every known magic', () => {
    const magic = fc.constantFrom(
      'RIFF',
      'RF64',
      'SDPX',
      'XPDS',
      '\0\0\0\x10ftyp',
      '\0\0\0\x01mdat',
      '\x06\x0e\x2b\x34\x02\x05\x01\x01\x0d\x01\x02\x01\x01\x02\x04\0',
    );
    fc.assert(
      fc.property(magic, fc.uint8Array({ maxLength: 400 }), (start, rest) => {
        const { verdict } = judge(join(ascii(start), rest), 'a.mov');
        expect(verdict).not.toBe('not-media');
      }),
      { numRuns: runs(600) },
    );
  });
});
