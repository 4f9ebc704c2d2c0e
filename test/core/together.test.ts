import { expect, test } from 'vitest';
import { onNextBeat, toNextBeat } from '../../src/core/together.ts';

test.each([
  [0, 2500, 2500],
  [1, 2500, 2499],
  [2499, 2500, 2501],
  [2500.4, 2500, 2499.6],
  [7600, 2500, 2400],
])('at %d ms the next multiple of %d is %d ms away', (ticks, period, wait) => {
  expect(toNextBeat(ticks, period)).toBeCloseTo(wait, 6);
});

test('two who began at different times wake together from then on', () => {
  const due: number[] = [];
  for (const ticks of [130, 999]) {
    onNextBeat({ now: () => 0, ticks: () => ticks, after: (ms) => () => void due.push(ticks + ms) }, 1000, () => {})();
  }
  expect(due).toEqual([1000, 2000]);
});
