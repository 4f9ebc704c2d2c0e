import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { SpareMemory } from '../../../src/rim/base/spare-memory.ts';

const REST_MS = 5000;

beforeEach(() => void vi.useFakeTimers());
afterEach(() => void vi.useRealTimers());

function watched() {
  const done: string[] = [];
  const memory = new SpareMemory(REST_MS, { before: () => done.push('before'), collect: () => done.push('collect') });
  return { done, memory };
}

test('the first work is followed by giving back, however little it was', () => {
  const { done, memory } = watched();
  memory.worked(0);
  vi.advanceTimersByTime(REST_MS - 1);
  expect(done).toEqual([]);
  vi.advanceTimersByTime(1);
  expect(done).toEqual(['before', 'collect']);
});

test('nothing is given back while work goes on; a little now and then is rest', () => {
  const { done, memory } = watched();
  for (let second = 0; second < 60; second++) {
    memory.worked(1000);
    vi.advanceTimersByTime(1000);
  }
  expect(done).toEqual([]);
  for (let second = 0; second < 11; second++) {
    memory.worked(3);
    vi.advanceTimersByTime(1000);
  }
  expect(done).toEqual(['before', 'collect']);
});

test('later it is given back once for much work, and never for little', () => {
  const { done, memory } = watched();
  memory.worked(1);
  vi.advanceTimersByTime(REST_MS);
  done.length = 0;
  memory.worked(9_999);
  vi.advanceTimersByTime(10 * REST_MS);
  expect(done).toEqual([]);
  memory.worked(1);
  vi.advanceTimersByTime(10 * REST_MS);
  expect(done).toEqual(['before', 'collect']);
});

test('closed, it gives nothing back any more', () => {
  const { done, memory } = watched();
  memory.worked(1);
  memory.close();
  vi.advanceTimersByTime(10 * REST_MS);
  expect(done).toEqual([]);
});

test('the collector of this thread is found, and takes what nobody holds', async () => {
  vi.useRealTimers();
  const lost = new WeakRef(new Array(100_000).fill(null));
  // What a reference was made of or looked at in this job is held until the job has ended.
  await sleep(1);
  new SpareMemory(1).worked(1);
  await sleep(200);
  expect(lost.deref()).toBeUndefined();
});
