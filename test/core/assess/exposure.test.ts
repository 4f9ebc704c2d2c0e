import { describe, expect, test } from 'vitest';
import { assessExposure } from '../../../src/core/assess/exposure.ts';
import { NOON, sampleSum } from '../samples.ts';

const exposed = (bytes: number, since: number | null) => ({ bytes, clips: 2, durationSeconds: 30, since });

describe('exposure', () => {
  test('adds up all parts and keeps the earliest time', () => {
    const sums = [
      sampleSum({ exposed: exposed(5e9, NOON) }),
      sampleSum({ project: 'Saltmarsh', exposed: exposed(7e9, NOON - 1) }),
      sampleSum({ area: 'unassigned', project: null, exposed: exposed(1e9, null) }),
    ];
    expect(assessExposure(sums)).toEqual({
      exposedBytes: 13e9,
      exposedClips: 6,
      exposedSeconds: 90,
      exposedSince: NOON - 1,
    });
  });

  test('is unknown, not zero, when one part is', () => {
    expect(assessExposure([sampleSum(), sampleSum({ project: 'Saltmarsh', exposed: null })])).toBeNull();
  });

  test('leaves the trash out, known or not', () => {
    expect(
      assessExposure([sampleSum(), sampleSum({ area: 'trash', project: null, exposed: null })])?.exposedBytes,
    ).toBe(0);
  });

  test('of nothing is nothing', () => {
    expect(assessExposure([])).toEqual({ exposedBytes: 0, exposedClips: 0, exposedSeconds: 0, exposedSince: null });
  });
});
