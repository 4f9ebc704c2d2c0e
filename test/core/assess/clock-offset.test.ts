import { describe, expect, test } from 'vitest';
import { clockAhead, type Stretch } from '../../../src/core/assess/clock-offset.ts';

const SCENES: Stretch[] = [
  { start: 0, end: 65 },
  { start: 300, end: 420 },
  { start: 900, end: 931 },
  { start: 2000, end: 2210 },
];
const ahead = (seconds: number, clips = SCENES) =>
  clips.map(({ start, end }) => ({ start: start + seconds, end: end + seconds }));

describe('a clock beside the others', () => {
  test.each([11, 252, -420, 3000])('that is %i s ahead', (seconds) => {
    expect(clockAhead(ahead(seconds), SCENES)).toBeCloseTo(seconds, 6);
  });

  test('is right where it shows what the others show', () => {
    expect(clockAhead(SCENES, SCENES)).toBe(0);
    expect(clockAhead(ahead(1.5), SCENES)).toBe(0);
  });

  test('is not told by a single clip or two, however many cameras ran beside them, nor by one that is hours away', () => {
    const crowd = [SCENES, SCENES, SCENES].flat();
    expect(clockAhead(ahead(252, SCENES.slice(0, 2)), crowd)).toBeNull();
    expect(clockAhead(ahead(9000), SCENES)).toBeNull();
    expect(clockAhead([], SCENES)).toBeNull();
    expect(clockAhead(SCENES, [])).toBeNull();
  });

  test('nor where every shift fits as well: scenes of one length at even times', () => {
    const even = Array.from({ length: 8 }, (_, index) => ({ start: index * 240, end: index * 240 + 60 }));
    expect(clockAhead(ahead(480, even), even)).toBeNull();
  });
});
