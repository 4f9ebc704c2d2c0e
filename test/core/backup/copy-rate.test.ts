import { expect, test } from 'vitest';
import { secondsPerByte, withRun } from '../../../src/core/backup/copy-rate.ts';

test('bytes over seconds of the runs so far, each one before counting half', () => {
  const first = withRun(null, { bytes: 1e9, seconds: 10 });
  expect(secondsPerByte(first)).toBeCloseTo(1e-8, 15);
  const second = withRun(first, { bytes: 1e9, seconds: 40 });
  // (5 + 40) s over (.5 + 1) GB.
  expect(secondsPerByte(second)).toBeCloseTo(45 / 1.5e9, 15);
});

test('what is too little to tell of drives is left out', () => {
  const known = { bytes: 1e9, seconds: 10 };
  expect(withRun(known, { bytes: 1e6, seconds: 4 })).toBe(known);
  expect(withRun(null, { bytes: 0, seconds: 0 })).toBeNull();
  expect(secondsPerByte(null)).toBeNull();
});
