import { setTimeout as sleep } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { createLane } from '../../../src/daemon/backup/lane.ts';

/** Work that goes on until it is let through, or asked to stop. */
function work(name: string, told: string[]) {
  const { promise, resolve } = Promise.withResolvers<void>();
  return {
    through: resolve,
    async first() {
      told.push(`${name} begins`);
      await promise;
      told.push(`${name} ends`);
    },
    async givingWay(signal: AbortSignal) {
      told.push(`${name} begins`);
      const asked = new Promise<void>((done) => signal.addEventListener('abort', () => done(), { once: true }));
      await Promise.race([promise, asked]);
      told.push(signal.aborted ? `${name} steps aside` : `${name} ends`);
      return !signal.aborted;
    },
  };
}

const someTurns = () => sleep(5);

test('what gives way begins only when no backup goes on, steps aside for one, and begins again behind it', async () => {
  const told: string[] = [];
  const lane = createLane();
  const [one, two, slow, after] = ['one', 'two', 'slow', 'after'].map((name) => work(name, told));
  if (one === undefined || two === undefined || slow === undefined || after === undefined) throw new Error('four');
  const first = lane.first(one.first);
  const reading = lane.givingWay(slow.givingWay);
  const last = lane.givingWay(after.givingWay);
  await someTurns();
  expect(told.splice(0)).toEqual(['one begins']);
  one.through();
  await first;
  await someTurns();
  expect(told.splice(0)).toEqual(['one ends', 'slow begins']);
  const second = lane.first(two.first);
  await someTurns();
  expect(told.splice(0)).toEqual(['slow steps aside', 'two begins']);
  two.through();
  await second;
  await someTurns();
  slow.through();
  after.through();
  await Promise.all([reading, last]);
  expect(told).toEqual(['two ends', 'slow begins', 'slow ends', 'after begins', 'after ends']);
});

test('one that fails holds up nothing', async () => {
  const lane = createLane();
  const told: string[] = [];
  const fails = async () => {
    throw new Error('it failed');
  };
  await expect(lane.first(fails)).rejects.toThrow('it failed');
  await expect(lane.givingWay(fails)).rejects.toThrow('it failed');
  await lane.first(async () => void told.push('first'));
  await lane.givingWay(async () => told.push('aside') > 0);
  expect(told).toEqual(['first', 'aside']);
});
