import { describe, expect, test } from 'vitest';
import type { SpeedSample } from '../../../src/core/assess/speed-sample.ts';
import { bytesOrWhy, measuredSentences, whyNotNow } from '../../../src/core/present/measure-words.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import type { VolumeSnapshot } from '../../../src/core/present/snapshot-volume.ts';
import { sampleArrival, sampleAssessment } from '../samples.ts';

const shown = snapshot(
  sampleAssessment({ arrivals: [sampleArrival({ stage: 'copying' }), sampleArrival({ volume: 'other' })] }),
  [],
  { version: '0.1.0', page: null, zone: 'UTC' },
);
const [volume] = shown.volumes;
if (volume === undefined) throw new Error('the sample is incomplete');
const withLoad = (load: VolumeSnapshot['speed']['load']): VolumeSnapshot => ({
  ...volume,
  speed: { ...volume.speed, load },
});
const withRoom = (roomBytes: number | null): VolumeSnapshot => ({
  ...volume,
  capacity: { ...volume.capacity, roomBytes },
});

describe('when a volume is not measured', () => {
  test('while something is copied to it', () => {
    expect(whyNotNow(volume, shown.arrivals)).toMatch(
      /^1 copy is arriving on stripe \(Tidewater Sessions\/A002\.mov\): /,
    );
    expect(whyNotNow(volume, shown.arrivals.slice(1))).toBeNull();
  });

  test('while it is at work, our own reading aside', () => {
    const load = { share: 0.2, readBps: 30e6, writeBps: 1e6, ownReadBps: 0 };
    expect(whyNotNow(withLoad(load), [])).toBe('stripe is at work: 30.0 MB/s are read and 1.00 MB/s written there');
    expect(whyNotNow(withLoad({ ...load, ownReadBps: 25e6 }), [])).toBeNull();
  });

  test('with too little room, or none that is known', () => {
    expect(bytesOrWhy(withRoom(null))).toBe('how much room stripe has is not known');
    expect(bytesOrWhy(withRoom(-1))).toMatch(/^stripe has 0 B above its reserve; .* needs 512 MB there$/);
    expect(bytesOrWhy(withRoom(1e12), 1e6)).toMatch(/^that is too little .*; take 256 MB or more$/);
    expect(bytesOrWhy(withRoom(1e12))).toBeGreaterThan(31.9e9);
  });
});

test('what was measured, with what it is not', () => {
  const sample: SpeedSample = {
    ...{ volume: 'stripe', at: 0, method: 'direct', readBps: 1000e6, writeBps: 800e6, bytes: 8e9 },
    ...{ requestBytes: 1_048_576, idle: false },
    streams: [
      { streams: 9, readBps: 600e6, p50Ms: 9, p99Ms: 30.04 },
      { streams: 1, readBps: 900e6, p50Ms: 1, p99Ms: 2 },
    ],
  };
  const text = measuredSentences(sample, volume);
  expect(text[0]).toBe('stripe reads 1000 MB/s and writes 800 MB/s, one file of 8.00 GB from end to end.');
  expect(text[1]).toBe(
    '9 streams side by side read 600 MB/s in all; one request in a hundred takes longer than 30.0 ms.',
  );
  expect(text[2]).toBe('30 % of it are kept free: 700 MB/s may be asked for by one stream.');
  expect(text[3]).toMatch(/^Something else went on there meanwhile/);
  const plain = measuredSentences({ ...sample, idle: true, streams: [] }, volume);
  expect(plain).toHaveLength(3);
});

test('where memory may have answered, the least and the most are told, and of several streams nothing', () => {
  const sample: SpeedSample = {
    ...{ volume: 'stripe', at: 0, method: 'dropped', readBps: 1000e6, writeBps: 800e6, bytes: 8e9 },
    ...{ requestBytes: 1_048_576, idle: true, streams: [{ streams: 9, readBps: 600e6, p50Ms: 9, p99Ms: 30 }] },
  };
  expect(measuredSentences(sample, volume)).toEqual([
    'stripe writes 800 MB/s, one file of 8.00 GB from end to end.',
    'It reads between 800 MB/s and 1000 MB/s: on this kind of file system memory may have answered, and drives seldom read slower than they write.',
    '30 % of it are kept free: 560 MB/s may be asked for by one stream.',
    'A drive whose own cache is larger than the file writes slower when that is full, in long copies.',
  ]);
  expect(measuredSentences({ ...sample, readBps: 500e6 }, volume)[1]).toBe(
    'It reads 500 MB/s at most: on this kind of file system memory may have answered.',
  );
});
