import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { HEAD_BYTES, whyNotMedia } from '../../../src/rim/probe/signature.ts';
import { bytesOf, fixtures } from './files.ts';

const head = (bytes: Uint8Array) => bytes.subarray(0, HEAD_BYTES);

describe('what begins like media', () => {
  test.each(fixtures)('%s', (name) => {
    expect(whyNotMedia(head(bytesOf(name)))).toBeNull();
  });

  test('an MXF header behind a run-in (SMPTE ST 377-1)', () => {
    const runIn = Buffer.concat([Buffer.alloc(9000, 'x'), bytesOf('C0001.MXF')]);
    expect(whyNotMedia(head(runIn))).toBeNull();
  });

  test.each([
    [188, 0],
    [192, 4],
  ])('transport stream packets of %i bytes', (length, sync) => {
    const packets = Buffer.alloc(length * 6, 0xaa);
    for (let i = 0; i < 6; i++) packets[i * length + sync] = 0x47;
    expect(whyNotMedia(packets)).toBeNull();
    packets[length + sync] = 0x48;
    expect(whyNotMedia(packets)).not.toBeNull();
  });
});

describe('what does not', () => {
  test('says what it is instead', () => {
    expect(whyNotMedia(Buffer.alloc(0))).toBe('the file is empty');
    expect(whyNotMedia(Buffer.alloc(HEAD_BYTES))).toContain('all zeros');
    expect(whyNotMedia(Buffer.from('Take 3, second set.\r\n\tgood one\n'))).toBe('its content is text');
    expect(whyNotMedia(Buffer.from('BMX and FORM: notes on two reels'))).toBe('its content is text');
    expect(whyNotMedia(Buffer.from('%PDF-1.7\n%\x00\xc3'))).toContain('does not begin like');
  });

  test('one byte after many zeros is no longer "all zeros"', () => {
    const almost = Buffer.alloc(HEAD_BYTES);
    almost[HEAD_BYTES - 1] = 1;
    expect(whyNotMedia(almost)).toContain('does not begin like');
  });

  test('random content is taken for media in at most one of a hundred cases', () => {
    const seeds = fc.sample(fc.uint8Array({ minLength: 64, maxLength: 4096 }), 2000);
    expect(seeds.filter((bytes) => bytes.some((b) => b !== 0) && whyNotMedia(bytes) === null).length).toBeLessThan(20);
  });
});
