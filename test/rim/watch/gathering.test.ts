import { setImmediate as nextTurn } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { Gathering } from '../../../src/rim/watch/gathering.ts';

/** Events at so many a second for some seconds; how often it stood still. */
async function stoodStill(perSecond: number, seconds: number, isBusy = () => false): Promise<number> {
  let now = 0;
  let slept = 0;
  const sleep = (): void => {
    slept += 1;
  };
  const gathering = new Gathering({ isBusy, now: () => now, sleep });
  for (; now < seconds * 1000; now += 1000 / perSecond) {
    gathering.came();
    await nextTurn();
  }
  return slept;
}

test('stands still only where many events come a second, and nobody waits', async () => {
  expect(await stoodStill(300, 0.9)).toBe(0);
  expect(await stoodStill(300, 3)).toBeGreaterThan(100);
  expect(await stoodStill(30, 5)).toBe(0);
  expect(await stoodStill(300, 3, () => true)).toBe(0);
});

test('once for all events of a turn', async () => {
  let now = 0;
  let slept = 0;
  const sleep = (): void => {
    slept += 1;
  };
  const gathering = new Gathering({ isBusy: () => false, now: () => now, sleep });
  for (const second of [0, 1]) {
    for (let event = 0; event < 200; event++) {
      now = second * 1000 + event;
      gathering.came();
    }
    await nextTurn();
  }
  expect(slept).toBe(1);
});
