import { describe, expect, test } from 'vitest';
import { sniff } from '../../../../src/core/intake/container/sniff.ts';
import { ascii, be32, clip, clips, join } from './media.ts';

describe('sniff', () => {
  test.each([
    ['bmff', ['mov', 'mp4']],
    ['mxf', ['mxf']],
    ['riff', ['wav', 'avi']],
    ['dpx', ['dpx']],
    ['dv', ['dv']],
  ] as const)('%s: every fixture clip of the kind', (kind, extensions) => {
    const found = clips(...extensions);
    expect(found.length).toBeGreaterThan(0);
    for (const { name, bytes } of found) expect([name, sniff(bytes.subarray(0, 512))]).toEqual([name, kind]);
  });

  // QuickTime File Format: files from before `ftyp` may begin with any of these.
  test.each(['ftyp', 'moov', 'mdat', 'wide', 'free', 'skip', 'pnot'])('a movie may begin with %s', (type) => {
    expect(sniff(join(be32(32), ascii(type), new Uint8Array(24)))).toBe('bmff');
  });

  test('a first box of unknown type or impossible size is no movie', () => {
    expect(sniff(join(be32(32), ascii('abcd'), [1, 2, 3]))).toBe('unknown');
    expect(sniff(join(be32(5), ascii('ftyp'), [1, 2, 3]))).toBe('unknown');
  });

  test('MXF behind a run-in (SMPTE ST 377-1 allows 65,535 bytes)', () => {
    const mxf = clip('C0001.MXF').subarray(0, 200);
    const runIn = new Uint8Array(65_535).fill(0xaa);
    expect(sniff(join(runIn, mxf))).toBe('mxf');
    expect(sniff(join(runIn, [0xaa], mxf))).toBe('unknown');
  });

  // EBU Tech 3306 and ITU-R BS.2088 name the long forms; RFC 8794 the EBML magic; ISO/IEC 13818-1 the sync byte.
  test('RF64, BW64, EBML, transport streams with and without time stamps', () => {
    expect(sniff(ascii('RF64\xff\xff\xff\xffWAVEds64'))).toBe('rf64');
    expect(sniff(ascii('BW64\xff\xff\xff\xffWAVEds64'))).toBe('rf64');
    expect(sniff(Uint8Array.of(0x1a, 0x45, 0xdf, 0xa3, 1, 2))).toBe('ebml');
    const packets = (step: number, first: number) =>
      Uint8Array.from({ length: 600 }, (_, at) => (at >= first && (at - first) % step === 0 ? 0x47 : 0xc1));
    expect(sniff(packets(188, 0))).toBe('ts');
    expect(sniff(packets(192, 4))).toBe('ts');
    expect(sniff(packets(190, 0))).toBe('unknown');
  });

  test('text, also when the head cuts a character in two; zeros; nothing', () => {
    expect(sniff(new TextEncoder().encode('Lock Keepers, day 3\nschöne Grüße\n'))).toBe('text');
    expect(sniff(new TextEncoder().encode('Schleuse ä').subarray(0, 10))).toBe('text');
    expect(sniff(Uint8Array.of(0xff, 0xfe, 0x41, 0))).toBe('text');
    expect(sniff(new Uint8Array(512))).toBe('zeros');
    expect(sniff(Uint8Array.of(0x41, 0x42, 0x01))).toBe('unknown');
    expect(sniff(new Uint8Array(0))).toBe('unknown');
  });
});
