import { describe, expect, test } from 'vitest';
import { cameraPaces, footageSeconds, type RecordedClip } from '../../../src/core/forecast/footage-left.ts';

const clip = (camera: string, minute: number, bps: number, over: Partial<RecordedClip> = {}): RecordedClip => ({
  ...{ camera, at: minute * 60_000, durationSeconds: 60, format: 'ProRes 422 1920x1080 25' },
  bytes: bps * (over.durationSeconds ?? 60),
  ...over,
});

describe('footage time left', () => {
  // Worked by hand: 800e9 / (4 x 110e6) = 1818.18...
  test('four cameras of 110 MB/s fill 800 GB in 1818 s', () => {
    const clips = ['A', 'B', 'C', 'D'].map((camera) => clip(camera, 0, 110e6));
    expect(footageSeconds(800e9, cameraPaces(clips), 1)).toBeCloseTo(1818.18, 1);
    // With a tenth of it for what comes with the footage.
    expect(footageSeconds(800e9, cameraPaces(clips), 1.1)).toBeCloseTo(1652.89, 1);
    expect(footageSeconds(-5, cameraPaces(clips), 1)).toBe(0);
    expect(footageSeconds(800e9, cameraPaces(clips), 0.5)).toBeCloseTo(1818.18, 1);
    expect(footageSeconds(800e9, [], 1)).toBeNull();
  });

  test('a format that changes counts from its first clip on, and so does a rate that is another setting', () => {
    const morning = Array.from({ length: 100 }, (_, minute) => clip('A', minute, 25e6));
    const bpsOf = (clips: readonly RecordedClip[]) => cameraPaces(clips)[0]?.bps;
    expect(bpsOf(morning)).toBeCloseTo(25e6, -1);
    expect(bpsOf([...morning, clip('A', 101, 88e6, { format: 'ProRes 4444 1920x1080 25' })])).toBe(88e6);
    expect(bpsOf([...morning, clip('A', 101, 34e6)])).toBe(34e6);
    // Within the spread of one setting it is a mean.
    expect(bpsOf([...morning, clip('A', 101, 30e6)])).toBeLessThan(26e6);
  });

  test('longer clips count more, and older ones less: half as much after 20 minutes of footage', () => {
    const two = (first: number) =>
      cameraPaces([clip('A', 0, 20e6, { durationSeconds: first }), clip('A', 30, 24e6, { durationSeconds: 1200 })])[0]
        ?.bps;
    // By hand: weights 600 / 2 and 1200; 1200 / 2 and 1200.
    expect(two(600)).toBeCloseTo((300 * 20e6 + 1200 * 24e6) / 1500, -2);
    expect(two(1200)).toBeCloseTo((600 * 20e6 + 1200 * 24e6) / 1800, -2);
  });

  test('cameras that are gone, and clips of no known length, do not count', () => {
    const clips = [
      clip('A', 0, 10e6),
      clip('B', 13 * 60, 20e6),
      clip('C', 13 * 60, 30e6, { durationSeconds: 0, bytes: 5 }),
    ];
    expect(cameraPaces(clips).map(({ camera }) => camera)).toEqual(['B']);
    expect(cameraPaces([])).toEqual([]);
  });
});
