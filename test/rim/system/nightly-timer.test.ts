import { setTimeout as sleep } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { nightlyTimer } from '../../../src/rim/system/nightly-timer.ts';

test('wakes at the times that the fields say, until it is ended', async () => {
  let woken = 0;
  // With six fields the first are seconds.
  const stop = nightlyTimer('* * * * * *', 'Europe/Rome', () => woken++);
  await sleep(2_500);
  expect(woken).toBeGreaterThanOrEqual(2);
  stop();
  const then = woken;
  await sleep(1_500);
  expect(woken).toBe(then);
});
