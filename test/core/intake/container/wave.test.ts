import { describe, expect, test } from 'vitest';
import { ascii, clip, join, le32 } from './media.ts';
import { chunk, le16, look, riff, soundOf, structureOf } from './riff-files.ts';
import { bext, data, extensible, format, ixml, wave } from './wave-files.ts';

describe('the fixture', () => {
  // Made by ffmpeg; the values are those of the command in make-fixtures.sh.
  test('SM12-T003.WAV', () => {
    expect(look(clip('SM12-T003.WAV'))).toEqual({
      structure: {
        container: 'BWF',
        tracks: [
          {
            type: 'sound',
            codecId: '0x0001',
            channels: 2,
            sampleRate: 48_000,
            bitDepth: 24,
            samples: 19_200,
            durationSeconds: 0.4,
            bytes: 115_200,
          },
        ],
        timecodes: [],
        reel: null,
        camera: null,
        createdAt: '2027-02-11T10:16:30',
        ties: { materialPackage: null, scene: '12', take: '3', family: null, timeReference: 1_775_520_000 },
        troubles: [],
      },
      finding: { verdict: 'whole', detail: null },
      // The header, and the end of the sound.
      reads: 2,
      bytes: 32_768 + 4096,
    });
  });
});

describe('sound format', () => {
  const formatted = (fmt: Uint8Array, bytes: number, ...others: Uint8Array[]) =>
    soundOf(structureOf(riff('WAVE', fmt, ...others, data(bytes))));

  // Bytes a second of linear PCM are channels x rate x bytes of a sample: 176,400 on a compact disc (IEC 60908), 288,000
  // and 1,152,000 for two and eight channels of 24 bit at 48 kHz (AES5 names the rates).
  test.each([
    [{ channels: 2, rate: 44_100, bits: 16 }, 176_400],
    [{ channels: 2, rate: 48_000, bits: 24 }, 288_000],
    [{ channels: 8, rate: 48_000, bits: 24 }, 1_152_000],
    [{ channels: 1, rate: 96_000, bits: 24 }, 288_000],
    [{ channels: 2, rate: 192_000, bits: 32 }, 1_536_000],
  ])('a second of %j has %i bytes', (pcm, bytes) => {
    expect(formatted(format(pcm), bytes)).toEqual({
      type: 'sound',
      codecId: '0x0001',
      channels: pcm.channels,
      sampleRate: pcm.rate,
      bitDepth: pcm.bits,
      samples: pcm.rate,
      durationSeconds: 1,
      bytes,
    });
  });

  test('bits in use and bytes they take: plain and extensible', () => {
    // 20 bits in three bytes: a writer's depth in the plain form, valid bits in the extensible one.
    expect(formatted(format({ bits: 20 }), 600)).toMatchObject({ bitDepth: 20, samples: 100 });
    expect(formatted(extensible(1, 2, 3, 20), 600)).toMatchObject({ codecId: '0x0001', bitDepth: 20, samples: 100 });
    expect(formatted(extensible(1, 2, 4, 24), 800)).toMatchObject({ bitDepth: 24, samples: 100 });
    expect(formatted(extensible(1, 6, 3, 0), 1800)).toMatchObject({ channels: 6, bitDepth: 24, samples: 100 });
    // An extensible form that ends before it says what it is.
    const cut = chunk('fmt ', join(extensible(1, 2, 3, 24).subarray(8, 24), le16(0)));
    expect(formatted(cut, 600)).toMatchObject({ codecId: '0xfffe', channels: 2, bitDepth: null, samples: null });
    // More bits in use than there is room for.
    expect(formatted(extensible(1, 2, 3, 40), 600)).toMatchObject({ bitDepth: 24, samples: 100 });
    expect(formatted(extensible(3, 2, 4, 32), 800)).toMatchObject({ codecId: '0x0003', bitDepth: 32, samples: 100 });
  });

  test('24 bits in four bytes of the plain form are counted nowhere: their room contradicts them', () => {
    expect(formatted(format({ bits: 24, room: 4 }), 800)).toMatchObject({
      samples: null,
      durationSeconds: null,
      bytes: 800,
    });
  });

  // RFC 2361: 0x0055 is MPEG layer 3. Its samples are in the fact chunk, nowhere else.
  test('what is no PCM: length by the fact chunk, no depth', () => {
    const mp3 = format({ tag: 0x55, bits: 0, room: 1 });
    expect(formatted(mp3, 800)).toMatchObject({
      codecId: '0x0055',
      samples: null,
      durationSeconds: null,
      bitDepth: null,
    });
    expect(formatted(mp3, 800, chunk('fact', le32(24_000)))).toMatchObject({ samples: 24_000, durationSeconds: 0.5 });
    for (const unset of [0, 0xffff_ffff])
      expect(formatted(mp3, 800, chunk('fact', le32(unset)))).toMatchObject({ samples: null });
  });

  test('no format, half a format, half a sample', () => {
    const none = structureOf(riff('WAVE', data(600)));
    expect(soundOf(none)).toMatchObject({ codecId: null, channels: null, samples: null, bytes: 600 });
    expect(none.troubles).toEqual(['the format of the sound is missing or cut off']);
    expect(structureOf(riff('WAVE', chunk('fmt ', [1, 0, 2, 0]), data(600))).troubles).toHaveLength(1);
    const half = structureOf(riff('WAVE', format(), data(603)));
    expect([soundOf(half).samples, half.troubles]).toEqual([100, ['the sound ends in mid-sample']]);
  });
});

describe('what is not all there', () => {
  test('cut at every byte: no length is told that is not there', () => {
    const whole = wave([bext({ reference: 48_000 })], [ixml('<SCENE>4</SCENE>')]);
    for (let length = 12; length < whole.length - 1; length += 1) {
      const { structure } = look(whole.subarray(0, length));
      const { bytes, samples } = soundOf(structure);
      if (length < 12 + 24 + 610 + 8 + 2880) expect([length, bytes, samples]).toEqual([length, null, null]);
      expect(structure.troubles).not.toEqual([]);
    }
  });

  test('a recorder that has not written its sizes', () => {
    const file = wave([bext({ reference: 48_000, date: '2027-02-11', time: '10:16:30' })]);
    file.set(le32(0), 4);
    const at = file.length - 2880 - 4;
    file.set(le32(0), at);
    expect(structureOf(file)).toMatchObject({ createdAt: '2027-02-11T10:16:30', ties: { timeReference: 48_000 } });
    expect(soundOf(structureOf(file))).toMatchObject({ bytes: null, samples: null });
    // What follows is sound, and is not taken for chunks.
    expect(structureOf(file).troubles).toEqual([
      'the sizes in the header are not written',
      'the length of the sound is not written',
    ]);
  });

  test('sound that goes beyond the form, but not beyond the file', () => {
    const file = wave();
    file.set(le32(4 + 24 + 8 + 1000), 4);
    expect(soundOf(structureOf(file))).toMatchObject({ bytes: null, samples: null });
    expect(structureOf(file).troubles).toEqual(['the sound ends at byte 2,924, the header says at 1,044']);
  });

  test('more chunks than any recorder writes, and zeros in place of one', () => {
    const many = wave(Array.from({ length: 1100 }, () => chunk('junk', [])));
    const { structure, finding } = look(many);
    expect(structure.troubles[0]).toBe('there are more chunks than are looked at');
    expect(finding).toEqual({ verdict: 'no-structure', detail: 'more chunks than are looked at' });
    expect(structureOf(wave([], [new Uint8Array(64)])).troubles).toEqual([
      expect.stringContaining('there is no chunk at byte'),
    ]);
  });

  test('a chunk that goes beyond the end', () => {
    const file = wave([], [chunk('iXML', ascii('<BWFXML><SCENE>4</SCENE></BWFXML> '), 500)]);
    expect(structureOf(file)).toMatchObject({ ties: { scene: '4' }, troubles: ['chunk iXML goes beyond the end'] });
  });

  test('a format of its own size, channels none: unknown', () => {
    const fmt = chunk('fmt ', join(le16(1), le16(0), le32(0), le32(0), le16(0), le16(0)));
    expect(soundOf(structureOf(riff('WAVE', fmt, data(600))))).toMatchObject({
      channels: null,
      sampleRate: null,
      bitDepth: null,
      samples: null,
      bytes: 600,
    });
  });
});
