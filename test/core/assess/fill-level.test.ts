import { expect, test } from 'vitest';
import { leftWhenFull } from '../../../src/core/assess/fill-level.ts';
import { sampleGives, sampleVolume } from '../samples.ts';

test('what is left of the speed when the volume is filled up to its reserve', () => {
  const { speed, capacity } = sampleVolume();
  const turning = { ...speed, gives: sampleGives(1e9, { drive: 'hdd' }) };
  // Of 4 TB three quarters are in use, and nine tenths will be; from memory: the last tracks read at half the speed of the first.
  expect(leftWhenFull({ speed: turning, capacity })).toBeCloseTo((1 - 0.45) / (1 - 0.375), 12);
  expect(leftWhenFull({ speed, capacity })).toBe(1);
  expect(leftWhenFull({ speed: { ...speed, gives: null }, capacity })).toBe(1);
  expect(leftWhenFull({ speed: turning, capacity: null })).toBe(1);
  const full = {
    space: { totalBytes: 4e12, freeBytes: 1e11, availableBytes: 1e11 },
    reserveBytes: 4e11,
    roomBytes: -3e11,
  };
  expect(leftWhenFull({ speed: turning, capacity: full })).toBe(1);
});
