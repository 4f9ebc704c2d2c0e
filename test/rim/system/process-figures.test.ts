import { closeSync, openSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, expect, test } from 'vitest';
import { createProcessWatch, type ProcessWatch } from '../../../src/rim/system/process-figures.ts';
import { fakeClock } from '../../fakes/clock.ts';

let watch: ProcessWatch | null = null;
afterEach(() => watch?.close());

const now = () => fakeClock(Date.now());

test('what this process uses, as the system tells it', () => {
  watch = createProcessWatch(now(), false);
  const before = watch.figures();
  const opened = Array.from({ length: 5 }, () => openSync('/dev/null', 'r'));
  const until = performance.now() + 60;
  while (performance.now() < until);
  const after = watch.figures();
  for (const fd of opened) closeSync(fd);
  expect((after.openFiles ?? 0) - (before.openFiles ?? 0)).toBe(5);
  expect(after.cpuSeconds).toBeGreaterThan(before.cpuSeconds);
  expect(after.residentBytes).toBeGreaterThan(after.heapUsedBytes);
  expect(after.activeResources).toBeGreaterThanOrEqual(0);
  expect(Date.now() / 1000 - before.startedAt).toBeGreaterThan(0);
  // Nobody asked for it.
  expect(after.loopDelay).toBeNull();
});

test('how late the event loop was is told once a minute is over, of that minute alone', async () => {
  const clock = now();
  watch = createProcessWatch(clock, true);
  await sleep(100);
  const until = performance.now() + 300;
  while (performance.now() < until);
  await sleep(100);
  expect(watch.figures().loopDelay).toBeNull();
  await clock.advance(60_000);
  const { loopDelay } = watch.figures();
  // It was held for 300 ms; up to one step of 50 ms it would have waited anyway.
  expect(loopDelay?.max).toBeGreaterThan(0.2);
  expect(loopDelay?.p50).toBeGreaterThanOrEqual(0);
  expect(loopDelay?.p50).toBeLessThan(loopDelay?.max ?? 0);
});
