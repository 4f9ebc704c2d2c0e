import { describe, expect, test } from 'vitest';
import { assessCapacity, usedBytes, writableBytes } from '../../../src/core/assess/capacity.ts';

/**
 * One ext4 file system as statvfs and GNU df 9.1 told it: df's "Used" is blocks - bfree, its "Available" bavail, and its
 * Use% is used / (used + available).
 */
const EXT4 = { totalBytes: 270_553_174_016, freeBytes: 246_459_842_560, availableBytes: 84_850_962_432 };

describe('capacity', () => {
  test('counts used bytes as df does', () => {
    expect(usedBytes(EXT4)).toBe(24_093_331_456);
    expect(Math.ceil((100 * usedBytes(EXT4)) / writableBytes(EXT4))).toBe(23);
  });

  test('takes a share off what the user can write, not off the whole device', () => {
    const { reserveBytes, roomBytes } = assessCapacity(EXT4, { share: 0.1 });
    expect(reserveBytes).toBe(10_894_429_389);
    expect(roomBytes).toBe(84_850_962_432 - 10_894_429_389);
  });

  test('takes bytes as they are, and lets room go below zero', () => {
    expect(assessCapacity(EXT4, { bytes: 100e9 })).toEqual({
      space: EXT4,
      reserveBytes: 100e9,
      roomBytes: 84_850_962_432 - 100e9,
    });
  });

  test('an empty reserve leaves all that is available', () => {
    expect(assessCapacity(EXT4, { share: 0 }).roomBytes).toBe(EXT4.availableBytes);
  });
});
