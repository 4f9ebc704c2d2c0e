import { describe, expect, test } from 'vitest';
import {
  evidenceOf,
  isSaturated,
  type LoadSample,
  lately,
  loadBetween,
  type VolumeCounters,
} from '../../../src/core/assess/disk-load.ts';
import { peakEvidence, withPeak } from '../../../src/core/assess/peaks.ts';

const MB = 1e6;
const NOTHING: VolumeCounters = {
  atMs: 0,
  readBytes: 0,
  writtenBytes: 0,
  drives: [
    { busyMs: 0, queuedMs: 0 },
    { busyMs: 0, queuedMs: 0 },
  ],
  own: { readBytes: 0, writtenBytes: 0 },
};
const LATER: VolumeCounters = {
  atMs: 10_000,
  readBytes: 4000 * MB,
  writtenBytes: 1000 * MB,
  drives: [
    { busyMs: 10_000, queuedMs: 60_000 },
    { busyMs: 9_000, queuedMs: 20_000 },
  ],
  own: { readBytes: 500 * MB, writtenBytes: 0 },
};

describe('what went on between two looks', () => {
  test('rates, what of them is ours, and how busy the drives were', () => {
    expect(loadBetween(NOTHING, LATER)).toEqual({
      seconds: 10,
      readBps: 400 * MB,
      writeBps: 100 * MB,
      ownReadBps: 50 * MB,
      ownWriteBps: 0,
      busy: 0.95,
      queue: 4,
    });
  });

  test('ours is never more than all, nor less than nothing when one of our processes was started again', () => {
    const more = { ...LATER, own: { readBytes: 9e12, writtenBytes: -1 } };
    expect(loadBetween(NOTHING, more)).toMatchObject({ ownReadBps: 400 * MB, ownWriteBps: 0 });
  });

  test('nothing is told where nothing can be', () => {
    expect(loadBetween(LATER, LATER)).toBeNull();
    expect(loadBetween(LATER, { ...NOTHING, atMs: 20_000 })).toBeNull();
    expect(loadBetween(NOTHING, { ...LATER, drives: [] })).toBeNull();
    expect(loadBetween({ ...NOTHING, drives: [] }, { ...LATER, drives: [] })).toMatchObject({ busy: 0, queue: 0 });
  });
});

test('what went on lately: smoothed over a minute', () => {
  const now = loadBetween(NOTHING, LATER);
  if (now === null) throw new Error('a sample');
  expect(lately(null, now)).toBe(now);
  const after = lately(now, { ...now, readBps: 0, writeBps: 0, seconds: 60 });
  expect(after.readBps / (400 * MB)).toBeCloseTo(1 / Math.E, 9);
  expect(after.ownReadBps).toBe(50 * MB);
});

describe('what a volume at work teaches', () => {
  const sample: LoadSample = {
    seconds: 10,
    readBps: 950 * MB,
    writeBps: 50 * MB,
    ownReadBps: 0,
    ownWriteBps: 0,
    busy: 1,
    queue: 5,
  };

  test('busy is not at its limit: a drive that takes many requests at once must have many', () => {
    expect(isSaturated(sample, 'ssd')).toBe(true);
    expect(isSaturated(sample, 'nvme')).toBe(false);
    expect(isSaturated(sample, null)).toBe(false);
    expect(isSaturated({ ...sample, queue: 1.6 }, 'hdd')).toBe(true);
    expect(isSaturated({ ...sample, busy: 0.94 }, 'ssd')).toBe(false);
  });

  test('the most in one direction only while hardly anything goes the other way', () => {
    const { read, write } = evidenceOf(sample, true, 7);
    expect(read).toEqual({ bps: 950 * MB, source: 'saturated', at: 7 });
    expect(write).toEqual({ bps: 50 * MB, source: 'reached', at: 7 });
    expect(evidenceOf(sample, false, 7).read.source).toBe('reached');
    expect(evidenceOf({ ...sample, writeBps: 200 * MB }, true, 7).read.source).toBe('reached');
  });

  test('of each day the strongest is kept, and what is hardly more is no news', () => {
    const noon = 20_880 * 86_400_000 + 43_200_000;
    const one = withPeak([], noon, evidenceOf(sample, true, noon));
    expect(one).toEqual([
      {
        day: 20_880,
        read: { saturatedBps: 950 * MB, reachedBps: null },
        write: { saturatedBps: null, reachedBps: 50 * MB },
      },
    ]);
    expect(withPeak(one, noon + 1, evidenceOf({ ...sample, readBps: 951 * MB }, true, noon))).toBe(one);
    expect(withPeak(one, noon + 1, evidenceOf({ ...sample, readBps: 0, writeBps: 0 }, false, noon))).toBe(one);
    const more = withPeak(one, noon + 1, evidenceOf({ ...sample, readBps: 1200 * MB }, false, noon));
    expect(more[0]?.read).toEqual({ saturatedBps: 950 * MB, reachedBps: 1200 * MB });
    const days = withPeak(more, noon + 86_400_000, evidenceOf(sample, true, noon));
    expect(days.map(({ day }) => day)).toEqual([20_880, 20_881]);
    expect(withPeak(days, noon + 61 * 86_400_000, evidenceOf(sample, true, noon)).map(({ day }) => day)).toEqual([
      20_941,
    ]);
    expect(peakEvidence(more, noon)).toEqual({
      read: [
        { bps: 950 * MB, source: 'saturated', at: noon },
        { bps: 1200 * MB, source: 'reached', at: noon },
      ],
      write: [{ bps: 50 * MB, source: 'reached', at: noon }],
    });
  });
});
