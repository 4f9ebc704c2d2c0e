import { expect, test } from 'vitest';
import { inSteps, inTurns } from '../../src/daemon/turns.ts';

const numbers = (count: number) => Array.from({ length: count }, (_, at) => at);

test('a long list in slices, in its order, with the loop turning in between', async () => {
  let turns = 0;
  let going = true;
  const turn = (): void => {
    turns += 1;
    if (going) setImmediate(turn);
  };
  setImmediate(turn);
  const sizes: number[] = [];
  const even = await inTurns(numbers(5500), (some) => {
    sizes.push(some.length);
    return some.filter((number) => number % 2 === 0);
  });
  going = false;
  expect(even).toEqual(numbers(5500).filter((number) => number % 2 === 0));
  expect(sizes).toEqual([1000, 1000, 1000, 1000, 1000, 500]);
  expect(turns).toBeGreaterThanOrEqual(5);
});

test('nothing for nothing', async () => {
  expect(await inTurns([], () => [1])).toEqual([]);
});

test('steps are worked through, and the loop turns after each 8 ms of them', async () => {
  let now = 0;
  let turns = 0;
  const turnsAt: number[] = [];
  function* steps(): Generator<void, string> {
    for (let step = 0; step < 10; step += 1) {
      turnsAt.push(turns);
      now += 4;
      yield;
    }
    return 'done';
  }
  const turn = (): void => {
    turns += 1;
    if (turnsAt.length < 10) setImmediate(turn);
  };
  setImmediate(turn);
  expect(await inSteps(steps(), { ticks: () => now })).toBe('done');
  expect(new Set(turnsAt).size).toBe(5);
});
