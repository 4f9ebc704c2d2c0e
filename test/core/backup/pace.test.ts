import { expect, test } from 'vitest';
import type { LoadAssessment } from '../../../src/core/assess/assessment.ts';
import { paceOn } from '../../../src/core/backup/pace.ts';
import { NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../samples.ts';

/** What may be asked for is 420 MB/s with 30 % kept free: it gives 600. */
const LOAD: LoadAssessment = { share: 0.2, isHigh: false, readBps: 100e6, writeBps: 0, ownReadBps: 0 };
const SPEED = { ...sampleVolume().speed, readBudgetBps: 420e6, reserveShare: 0.3 };

function isPaused(load: Partial<LoadAssessment> | null, isPlaying = false): boolean {
  const volume = sampleVolume({ load: load === null ? null : { ...LOAD, ...load }, speed: SPEED });
  const edit = { ...NOTHING_MADE.edit, beingRead: new Set(isPlaying ? ['a'] : []) };
  const projects = [{ ...NOTHING_MADE, edit, sum: sampleSum(), multicam: [] }];
  return paceOn(sampleAssessment({ volumes: [volume], projects }), 'stripe').paused;
}

test('copying waits while playback leaves little, or while it has been too much for minutes', () => {
  expect(isPaused({ readBps: 421e6 }, true)).toBe(true);
  expect(isPaused({ readBps: 419e6 }, true)).toBe(false);
  expect(isPaused({ readBps: 500e6 }, false)).toBe(false);
  expect(isPaused({ readBps: 500e6, isHigh: true }, false)).toBe(true);
});

test('what headroomd reads itself is not what it waits for, and without a view of the drives it goes on', () => {
  expect(isPaused({ readBps: 580e6, ownReadBps: 400e6 }, true)).toBe(false);
  expect(isPaused(null, true)).toBe(false);
  expect(paceOn(sampleAssessment({ volumes: [] }), 'stripe')).toEqual({ paused: false, ceilingBps: null });
});
