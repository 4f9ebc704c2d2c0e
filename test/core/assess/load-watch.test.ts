import { describe, expect, test } from 'vitest';
import { NOTHING_WATCHED, watchLoad } from '../../../src/core/assess/load-watch.ts';
import { noisyDay, STEP } from './noisy-day.ts';

/** Seconds at which it changed. */
function changesOf(shares: readonly number[]): number[] {
  const changes: number[] = [];
  let watch = NOTHING_WATCHED;
  for (const [index, share] of shares.entries()) {
    const next = watchLoad(watch, share, STEP);
    if (next.isHigh !== watch.isHigh) changes.push((index + 1) * STEP);
    watch = next;
  }
  return changes;
}

describe('a volume at work', () => {
  test.each(Array.from({ length: 40 }, (_, seed) => seed + 1))(
    'a noisy day, the %i.: each spell once, nothing else',
    (seed) => {
      const { shares, spells } = noisyDay(seed);
      const changes = changesOf(shares);
      expect(changes).toHaveLength(6);
      for (const [index, { from, to }] of spells.entries()) {
        const [raised, cleared] = [changes[2 * index] ?? 0, changes[2 * index + 1] ?? 0];
        expect(raised).toBeGreaterThan(from);
        expect(raised).toBeLessThan(to);
        expect(cleared).toBeGreaterThan(to);
        expect(cleared).toBeLessThan(to + 900);
      }
      // The raw value would have been told as too high this often.
      const raw = shares.filter((share, index) => share > 0.75 && (shares[index - 1] ?? 0) <= 0.75);
      expect(raw.length).toBeGreaterThan(30);
    },
  );

  test('three minutes above the line, and two clearly below', () => {
    expect(changesOf(Array(60).fill(0.8))).toEqual([180]);
    // Smoothed over a minute it is below .65 after some 20 s.
    const [, cleared] = changesOf([...Array(60).fill(0.8), ...Array(60).fill(0.3)]);
    expect(cleared).toBeGreaterThanOrEqual(600 + 120);
    expect(cleared).toBeLessThanOrEqual(600 + 160);
    expect(changesOf(Array(600).fill(0.74))).toEqual([]);
  });
});
