import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { clipRateBps, groupLoad, heaviestGroup, playbackDemand } from '../../../src/core/assess/stream-load.ts';
import { sampleClip, sampleGroup } from '../samples.ts';

describe('rate of a clip', () => {
  // VC-3 CID 1235 (1920x1080, 10 bit): 917504 bytes a frame (SMPTE ST 2019-1), 22 937 600 bytes a second at 25 fps.
  test('is essence bytes over duration', () => {
    const clip = sampleClip({ essenceBytes: 250 * 917_504, bytes: 250 * 917_504 + 5000 }, { durationSeconds: 10 });
    expect(clipRateBps(clip)).toBe(22_937_600);
  });

  test('does not believe the header', () => {
    const clip = sampleClip(
      { essenceBytes: 8_424_334 },
      { durationSeconds: 1, videoBitrate: 50e6, overallBitrate: 50e6 },
    );
    expect(clipRateBps(clip)).toBe(8_424_334);
  });

  test.each([
    ['no duration', sampleClip({}, { durationSeconds: null })],
    ['a duration of zero', sampleClip({}, { durationSeconds: 0 })],
    ['no essence', sampleClip({ essenceBytes: 0 })],
  ])('is unknown with %s', (_, clip) => expect(clipRateBps(clip)).toBeNull());
});

describe('load of a group', () => {
  test('of constant rates is their sum', () => {
    const stream = { meanBps: 22_937_600, sdBps: 0 };
    expect(groupLoad([stream, stream, stream])).toBe(3 * 22_937_600);
    expect(groupLoad([])).toBe(0);
  });

  // Own simulation: normal rates that share half of their variance, 60 000 draws; the load is their 99 % quantile.
  test('is what simulated streams of one scene exceed in 1 % of the time', () => {
    const streams = [
      { meanBps: 100e6, sdBps: 20e6 },
      { meanBps: 80e6, sdBps: 25e6 },
      { meanBps: 60e6, sdBps: 5e6 },
    ];
    const draw = normals(20_270_304);
    const sums = Array.from({ length: 60_000 }, () => {
      const scene = draw();
      return streams.reduce((sum, { meanBps, sdBps }) => sum + meanBps + sdBps * Math.SQRT1_2 * (scene + draw()), 0);
    }).sort((one, other) => one - other);
    const p99 = sums[Math.floor(0.99 * sums.length)] ?? 0;
    expect(groupLoad(streams) / p99).toBeGreaterThan(0.99);
    expect(groupLoad(streams) / p99).toBeLessThan(1.01);
  });

  test('never falls when a stream is added, and lies between independent and identical streams', () => {
    const stream = fc.record({ meanBps: fc.integer({ min: 0, max: 1e9 }), sdBps: fc.integer({ min: 0, max: 1e8 }) });
    fc.assert(
      fc.property(fc.array(stream, { maxLength: 8 }), stream, (streams, more) => {
        const mean = streams.reduce((sum, { meanBps }) => sum + meanBps, 0);
        const squares = streams.reduce((sum, { sdBps }) => sum + sdBps * sdBps, 0);
        const sds = streams.reduce((sum, { sdBps }) => sum + sdBps, 0);
        const load = groupLoad(streams);
        expect(load).toBeGreaterThanOrEqual(mean + 2.33 * Math.sqrt(squares) - 1);
        expect(load).toBeLessThanOrEqual(mean + 2.33 * sds + 1);
        expect(groupLoad([...streams, more])).toBeGreaterThanOrEqual(load - 1);
      }),
    );
  });
});

describe('demand', () => {
  const group = { ...sampleGroup({ peakBps: 550e6 }), largestBps: 110e6 };

  test('is the heaviest group', () => {
    const light = { ...sampleGroup({ peakBps: 200e6, angles: 2 }), largestBps: 100e6 };
    expect(playbackDemand([light, group], [sampleClip()])).toEqual({
      playback: { streams: 5, meanBps: 500e6, spreadBps: 50e6, largestBps: 110e6 },
      from: 'playing 5 angles at once (cameras A, B, C, D, E)',
    });
    expect(heaviestGroup([light, group])).toBe(group);
    expect(heaviestGroup([])).toBeNull();
  });

  test('is the heaviest of the newest clips without groups, or where it is heavier than all', () => {
    expect(playbackDemand([], [sampleClip({ essenceBytes: 5e8 }), sampleClip()])).toEqual({
      playback: { streams: 1, meanBps: 1e8, spreadBps: 0, largestBps: 1e8 },
      from: 'playing A001.mov (the heaviest of the newest clips)',
    });
    expect(playbackDemand([group], [sampleClip({ essenceBytes: 9e9 })])?.playback.meanBps).toBe(9e8);
  });

  test.each([
    ['sound', sampleClip({ essenceBytes: 9e9 }, { width: null, height: null })],
    ['a proxy', sampleClip({ kind: 'proxy', essenceBytes: 9e9 })],
    ['a render', sampleClip({ kind: 'render', essenceBytes: 9e9 })],
    ['a clip of unknown length', sampleClip({ essenceBytes: 9e9 }, { durationSeconds: null })],
  ])('is never that of %s, however heavy, in any order', (_, other) => {
    const picture = sampleClip({ name: 'B001.mov', essenceBytes: 5e8 });
    for (const newest of [
      [other, picture],
      [picture, other],
    ]) {
      expect(playbackDemand([], newest)).toMatchObject({
        playback: { meanBps: 5e7 },
        from: expect.stringContaining('B001.mov'),
      });
    }
  });

  test('is the group where the heaviest clip needs no more', () => {
    expect(playbackDemand([group], [sampleClip({ essenceBytes: 5.5e9 })])?.from).toMatch(/^playing 5 angles/);
  });

  test('is unknown when nothing has a rate', () => {
    expect(playbackDemand([], [])).toBeNull();
    expect(playbackDemand([], [sampleClip({}, { durationSeconds: null }), sampleClip({ kind: 'proxy' })])).toBeNull();
  });
});

/** Standard normal numbers from a fixed seed: a linear congruential generator (Numerical Recipes) and Box-Muller. */
function normals(seed: number): () => number {
  let state = seed;
  const uniform = () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return (state + 0.5) / 2 ** 32;
  };
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform());
}
