import { describe, expect, test } from 'vitest';
import type { SoundTrack, Structure } from '../../../../src/core/intake/container/structure.ts';
import { atom, be16, bytes, f64, movie, patched, soundEntry, structureOf, track } from './bmff-build.ts';

/** Values are those of the clauses named; ISO/IEC 14496-12 where none is, QTFF for the QuickTime File Format. */

const zeros = (length: number) => new Uint8Array(length);

function sound(structure: Structure): SoundTrack {
  const found = structure.tracks.find((one) => one.type === 'sound');
  if (found === undefined) throw new Error('no sound track');
  return found;
}

describe('sound', () => {
  const of = (entry: Uint8Array, spec: Parameters<typeof track>[0] = {}, brand = 'qt  ') =>
    sound(structureOf(movie([track({ handler: 'soun', timescale: 48_000, entry, ...spec })], { brand })));
  const tone = { times: [[4800, 1]], sizes: { count: 4800, each: 1 } } as const;

  // QTFF, Sound Sample Description (Version 0): uncompressed sound is counted in samples of size 1.
  test('version 0, counted in sample frames', () => {
    expect(of(soundEntry('twos', 2, 16, 48_000), tone)).toEqual({
      type: 'sound',
      codecId: 'twos',
      channels: 2,
      sampleRate: 48_000,
      bitDepth: 16,
      samples: 4800,
      durationSeconds: 0.1,
      bytes: 19_200,
    });
  });

  test('the same counted in whole frames', () => {
    const whole = { times: [[4800, 1]], sizes: { count: 4800, each: 4 } } as const;
    expect(of(soundEntry('twos', 2, 16, 48_000), whole)).toMatchObject({ samples: 4800, bytes: 19_200 });
  });

  /** Version 1: samples and bytes of a packet, bytes of a frame and of a sample. */
  const version1 = (
    type: string,
    channels: number,
    bits: number,
    packets: readonly number[],
    ...boxes: Uint8Array[]
  ) => {
    const entry = soundEntry(type, channels, bits, 48_000, bytes(...packets), ...boxes);
    entry.set(be16(1), 16);
    return entry;
  };

  // QTFF, Version 1: 24 bit is told as 16 with packets of 3 bytes.
  test('version 1: 24 bit in four channels', () => {
    const entry = version1('in24', 4, 16, [1, 3, 12, 2]);
    expect(of(entry, tone)).toMatchObject({ channels: 4, bitDepth: 24, samples: 4800, bytes: 57_600 });
    expect(of(version1('sowt', 2, 16, [1, 3, 6, 2]), tone)).toMatchObject({ bitDepth: 24, bytes: 28_800 });
  });

  // QTFF: IMA 4:1 has 64 samples in a packet of 34 bytes for each channel.
  test('version 1: packets of a compressed codec', () => {
    const counted = { times: [[640, 1]], sizes: { count: 640, each: 1 } } as const;
    expect(of(version1('ima4', 2, 16, [64, 34, 68, 2]), counted)).toMatchObject({ bitDepth: null, bytes: 680 });
  });

  // QTFF, Version 2: rate as a 64-bit float, 32-bit channels, bits, packet size, frames in a packet.
  test('version 2', () => {
    const entry = soundEntry('lpcm', 3, 16, 1, bytes(72, f64(192_000), 6, 0x7f00_0000, 24, 12, 18, 1));
    entry.set(be16(2), 16);
    expect(of(entry, { ...tone, timescale: 192_000 })).toMatchObject({
      channels: 6,
      sampleRate: 192_000,
      bitDepth: 24,
      samples: 4800,
      bytes: 86_400,
    });
  });

  test('a rate that does not fit 16 bits is that of the clock, of uncompressed sound', () => {
    expect(of(soundEntry('twos', 2, 16, 0), { ...tone, timescale: 96_000 }).sampleRate).toBe(96_000);
    expect(of(soundEntry('samr', 1, 16, 0), { timescale: 8000 }).sampleRate).toBeNull();
  });

  /** esds: descriptors 3, 4 and 5 (ISO/IEC 14496-1), with a set-up of 16 bits or more (ISO/IEC 14496-3). */
  const esds = (...setUp: number[]) => {
    const decoder = [0x40, 0x15, 0, 0, 0, ...zeros(8), 5, setUp.length, ...setUp];
    return atom('esds', 0, [3, 0x80, 0x80, 3 + 2 + decoder.length, 0, 1, 0, 4, decoder.length, ...decoder]);
  };
  // Object type 2 (LC) in 5 bits, index 3 is 48 kHz, configuration: 1 is mono, 6 is 5.1.
  const lowComplexity = (configuration: number) => [(2 << 3) | 1, 0x80 | (configuration << 3)];

  test('AAC: its own set-up counts, not the template of two channels', () => {
    expect(of(soundEntry('mp4a', 2, 16, 48_000, esds(...lowComplexity(1))), {}, 'isom').channels).toBe(1);
    expect(of(soundEntry('mp4a', 2, 16, 48_000, esds(...lowComplexity(6))), {}, 'isom')).toMatchObject({
      channels: 6,
      sampleRate: 48_000,
      bitDepth: null,
    });
    expect(of(soundEntry('mp4a', 2, 16, 48_000), {}, 'isom').channels).toBeNull();
    expect(of(soundEntry('mp4a', 1, 16, 48_000), {}, 'qt  ').channels).toBe(1);
  });

  test('AAC with band replication and parametric stereo: what is heard', () => {
    // 29, index 6 (24 kHz), mono; extension index 3 (48 kHz), object 2: 11101 0110 0001 0011 00010.
    expect(of(soundEntry('mp4a', 2, 16, 24_000, esds(0xeb, 0x09, 0x88)), {}, 'isom')).toMatchObject({
      channels: 2,
      sampleRate: 48_000,
    });
  });

  test('AAC: what else the descriptors may hold, long rates, channels that are told elsewhere', () => {
    const decoder = (...setUp: number[]) => [0x40, 0x15, 0, 0, 0, ...zeros(8), 5, setUp.length, ...setUp];
    const stream = (flags: number, extra: number[], inner: number[]) =>
      atom('esds', 0, [3, 30, 0, 1, flags, ...extra, 4, inner.length, ...inner]);
    const told = (box: Uint8Array) => of(soundEntry('mp4a', 2, 16, 48_000, box), {}, 'isom').channels;
    // Flags of ISO/IEC 14496-1 clause 7.2.6.5: depends on another stream, has an address, has a clock reference.
    expect(told(stream(0xe0, [0, 9, 2, 0x61, 0x62, 0, 7], decoder(...lowComplexity(6))))).toBe(6);
    expect(told(stream(0, [], decoder(...lowComplexity(0))))).toBeNull();
    expect(told(stream(0, [], [0x6b, 0x15, ...zeros(11)]))).toBeNull();
    expect(told(atom('esds', 0, [9, 9, 9]))).toBeNull();
    expect(told(atom('esds', 0, [3, 0x80, 0x80, 0x80, 0x80, 0x80]))).toBeNull();
    // Object 31 + 6 bits; index 15 and 24 bits of rate: 11111 001010 1111 (0x01F400 = 128,000) 0010.
    const long = of(
      soundEntry('mp4a', 2, 16, 0, stream(0, [], decoder(0xf9, 0x5e, 0x03, 0xe8, 0x00, 0x40))),
      {},
      'isom',
    );
    expect(long).toMatchObject({ channels: 2, sampleRate: 128_000 });
  });

  test('QuickTime keeps the set-up of a codec in a box of its own (QTFF, siDecompressionParam)', () => {
    expect(of(version1('mp4a', 2, 16, [1024, 0, 0, 2], atom('wave', esds(...lowComplexity(1))))).channels).toBe(1);
    expect(of(version1('ac-3', 2, 16, [1536, 0, 0, 2], atom('wave', atom('dac3', [0x10, 0x3d, 0xe0])))).channels).toBe(
      6,
    );
    const cookie = atom('alac', 0, 4096, [0, 24, 40, 10, 14, 2]);
    expect(of(version1('alac', 2, 16, [4096, 0, 0, 2], atom('wave', cookie))).bitDepth).toBe(24);
    expect(of(soundEntry('alac', 2, 16, 48_000, cookie), {}, 'isom')).toMatchObject({ bitDepth: 24, channels: 2 });
    expect(of(soundEntry('alac', 2, 16, 48_000), {}, 'isom').bitDepth).toBeNull();
  });

  test('FLAC states its depth; companded sound has none, but bytes', () => {
    expect(of(soundEntry('fLaC', 2, 24, 48_000), {}, 'isom')).toMatchObject({ bitDepth: 24, channels: 2 });
    expect(of(soundEntry('fLaC', 2, 0, 48_000), {}, 'isom').bitDepth).toBeNull();
    expect(of(soundEntry('ulaw', 2, 16, 48_000), tone)).toMatchObject({ bitDepth: null, bytes: 9600 });
  });

  test('what is not told: depth, channels, rate, the description itself', () => {
    expect(of(soundEntry('twos', 0, 0, 48_000), tone)).toMatchObject({ channels: null, bitDepth: null, bytes: null });
    expect(of(soundEntry('QDM2', 2, 16, 0), { timescale: 0 })).toMatchObject({
      sampleRate: null,
      samples: null,
      durationSeconds: null,
    });
    const bare = movie([track({ handler: 'soun', timescale: 48_000, entry: zeros(0), times: [[10, 4800]] })]);
    expect(sound(structureOf(bare))).toMatchObject({
      codecId: null,
      channels: null,
      durationSeconds: 1,
      samples: null,
      bytes: 100,
    });
  });

  // ETSI TS 102 366 annex F: fscod 2, bsid 5, bsmod 3, acmod 3, lfeon 1 bits; acmod 7 is 3/2.
  test('AC-3 with five channels and a low one', () => {
    expect(of(soundEntry('ac-3', 2, 16, 48_000, atom('dac3', [0x10, 0x3d, 0xe0])), {}, 'isom').channels).toBe(6);
  });

  test('a description of version 1 in an ISO table has the fields of version 0', () => {
    const entry = soundEntry('ipcm', 2, 24, 48_000, atom('pcmC', 0, [1, 24]));
    entry.set(be16(1), 16);
    const file = movie([track({ handler: 'soun', timescale: 48_000, entry, ...tone })], { brand: 'isom' });
    const at = file.findIndex((_, index) => String.fromCharCode(...file.subarray(index, index + 4)) === 'stsd');
    expect(sound(structureOf(patched(file, [at + 4, 0x0100_0000])))).toMatchObject({ channels: 2, bitDepth: 24 });
  });
});
