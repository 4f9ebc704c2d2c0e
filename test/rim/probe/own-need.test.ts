import { describe, expect, test } from 'vitest';
import { ownNeed } from '../../../src/rim/probe/own-need.ts';
import { bytesOf } from './files.ts';
import { firstByteWrong, hugeBoxes, repeated } from './hostile.ts';

const needOf = (bytes: Buffer) => ownNeed((from, length) => bytes.subarray(from, from + length), bytes.length);

describe('memory that a file may have for itself', () => {
  test('grows with an index that is really there', () => {
    const clip = bytesOf('S003_0042.MP4');
    // The index is last: its box begins four bytes before its name, and ends with the file.
    expect(needOf(clip)).toBe((clip.length - (clip.indexOf('moov') - 4)) * 16);
  });

  test('is that of the picture for OpenEXR, and has an end', () => {
    const magic = Buffer.from('762f3101', 'hex');
    expect(needOf(Buffer.concat([magic, Buffer.alloc(996)]))).toBe(2000);
    const read = (from: number, length: number) => magic.subarray(from, from + length);
    expect(ownNeed(read, 1e12)).toBe(192 * 1_048_576);
  });

  test.each([
    ['a first box that is longer than the file', () => firstByteWrong(1000)],
    ['the same many times over', () => repeated(3)],
    ['an index that claims to be longer than the file', hugeBoxes],
    ['an MXF file, which has no such index', () => bytesOf('C0001.MXF')],
  ])('is none for %s', (_name, make) => {
    expect(needOf(make())).toBe(0);
  });
});
