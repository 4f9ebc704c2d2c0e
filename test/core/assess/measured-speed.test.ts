import { expect, test } from 'vitest';
import { measuredSpeed } from '../../../src/core/assess/measured-speed.ts';
import type { SpeedSample } from '../../../src/core/assess/speed-sample.ts';
import { NOON } from '../samples.ts';

const SAMPLE: SpeedSample = {
  ...{ volume: 'stripe', at: NOON, method: 'direct', readBps: 100e6, writeBps: 90e6, streams: [] },
  ...{ bytes: 32e9, requestBytes: 4_194_304, idle: true },
};
const HDD = { speed: { level: 'single', members: 1, drive: 'hdd', link: null } } as const;

test('the newest measurement of the drives stands beside what the layout lets expect', () => {
  const older = { ...SAMPLE, at: NOON - 1, readBps: 1 };
  // One disk: 180 MB/s, 92 % of it behind the file system.
  expect(measuredSpeed([older, SAMPLE], HDD, 0)).toEqual({
    ...{ at: NOON, readBps: 100e6, writeBps: 90e6, expectedReadBps: 165.6e6, expectedWriteBps: 165.6e6 },
  });
  // Full it reads half as fast on its inner tracks.
  expect(measuredSpeed([SAMPLE], HDD, 1)?.expectedReadBps).toBeCloseTo(82.8e6, 0);
});

test('one that a cache may have answered, or that others disturbed, says nothing; neither does one without a layout', () => {
  expect(measuredSpeed([{ ...SAMPLE, method: 'dropped' }], HDD, 0)).toBeNull();
  expect(measuredSpeed([{ ...SAMPLE, idle: false }], HDD, 0)).toBeNull();
  expect(measuredSpeed([SAMPLE], null, 0)).toBeNull();
  expect(measuredSpeed([], HDD, 0)).toBeNull();
});
