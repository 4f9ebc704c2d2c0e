import { describe, expect, test } from 'vitest';
import { chunk, structureOf } from './riff-files.ts';
import { bext, wave } from './wave-files.ts';

describe('sound header (EBU Tech 3285)', () => {
  const header = (told: Parameters<typeof bext>[0]) => structureOf(wave([bext(told)]));

  test('a WAV with one is a Broadcast Wave', () => {
    expect(structureOf(wave()).container).toBe('WAV');
    expect(header({}).container).toBe('BWF');
  });

  test.each([
    ['2027-02-11', '10:16:30', '2027-02-11T10:16:30'],
    // Clause 2.3: any separator; hyphen, underscore, colon, space and stop are recommended.
    ['2027:02:11', '10-16-30', '2027-02-11T10:16:30'],
    ['2027_02_11', '10_16_30', '2027-02-11T10:16:30'],
    ['2027 02 11', '10 16 30', '2027-02-11T10:16:30'],
    ['2027.02.11', '10.16.30', '2027-02-11T10:16:30'],
    ['2028-02-29', '00:00:00', '2028-02-29T00:00:00'],
    ['2027-02-11', '', '2027-02-11'],
    ['2027-02-11', '24:00:00', null],
    ['2027-02-11', 'abc', null],
    ['2027-02-29', '10:16:30', null],
    ['1904-01-01', '00:00:00', null],
    ['1970-01-01', '00:00:00', null],
    ['0000-00-00', '00:00:00', null],
    ['', '10:16:30', null],
    ['11.02.2027', '10:16:30', null],
    ['\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff', '10:16:30', null],
  ])('recorded on %j at %j: %s', (date, time, createdAt) => {
    expect(header({ date, time })).toMatchObject({ createdAt, troubles: [] });
  });

  test('time reference of 64 bit; zero is not set; all ones neither', () => {
    expect(header({ reference: 1_775_520_000 }).ties.timeReference).toBe(1_775_520_000);
    // 23:59:59 at 192 kHz does not fit in 32 bits.
    expect(header({ reference: 86_399 * 192_000 }).ties.timeReference).toBe(16_588_608_000);
    expect(header({ reference: 0 }).ties.timeReference).toBeNull();
    const ones = bext();
    ones.fill(0xff, 8 + 338, 8 + 346);
    expect(structureOf(wave([ones]))).toMatchObject({ ties: { timeReference: null }, troubles: [] });
    ones[8 + 338] = 0;
    expect(structureOf(wave([ones]))).toMatchObject({
      ties: { timeReference: null },
      troubles: ['the time reference is beyond any day'],
    });
  });

  test('who wrote it is no camera; without a noted rate there is no timecode', () => {
    expect(header({ reference: 48_000 })).toMatchObject({ camera: null, timecodes: [], reel: null });
  });

  test('a header that is cut off', () => {
    expect(structureOf(wave([chunk('bext', new Uint8Array(300))]))).toMatchObject({
      container: 'BWF',
      createdAt: null,
      troubles: ['the sound header (bext) is cut off'],
    });
  });

  // Common practice, no source: lines in the description; the first letter differs by maker.
  test.each([
    ['sSCENE=12\r\nsTAKE=3\r\nsTAPE=FEN07\r\n', '12', '3', 'FEN07'],
    ['zSPEED=025.000-ND\nzSCENE=12 A\nzTAKE=03\nzTAPE=Fen 7\n', '12 A', '03', 'Fen 7'],
    ['sSCENE=12 sTAKE=3', '12', '3', null],
    ['SCENE=12\nTAKE=3', '12', '3', null],
    ['sSCENE=\r\nsTAKE= \r\n', null, null, null],
    ['sMISTAKE=9 the SCENERY=none', null, null, null],
  ])('description %j', (description, scene, take, reel) => {
    expect(header({ description })).toMatchObject({ ties: { scene, take }, reel });
  });
});
