import { setTimeout as delay } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { CopyOutcome, CopyProgress, Pace } from '../../../src/core/backup/copy-port.ts';
import { SharedPace } from '../../../src/rim/backup/pace.ts';
import { copyPort, FULL_SPEED, footage, guardOf, type JobGround, jobGround, onShelf } from './jobs.ts';

const MEBIBYTE = 1_048_576;

let ground: JobGround;
beforeEach(() => {
  ground = jobGround();
});
afterEach(() => ground.remove());

function started(pace: Pace, signal = new AbortController().signal) {
  const progress: CopyProgress[] = [];
  const outcomes: CopyOutcome[] = [];
  const hooks = {
    settled: (batch: CopyOutcome[]) => void outcomes.push(...batch),
    progress: (one: CopyProgress) => void progress.push(one),
  };
  const job = { volume: ground.volume, shelf: guardOf(ground.shelf), pace };
  return { run: copyPort().copy(job, ground.items, hooks, signal), progress, outcomes };
}

async function until(what: () => boolean): Promise<void> {
  while (!what()) await delay(20);
}

describe.each([
  ['small files', 60, 200_000],
  ['a large file', 1, 24 * MEBIBYTE],
])('%s', (_, files, bytes) => {
  beforeEach(() => {
    for (let at = 0; at < files; at++) ground.add(`Saltmarsh/${at}.mov`, footage(bytes, at));
  });

  test('a job that is paused moves nothing until it may go on', async () => {
    const { run, progress, outcomes } = started({ paused: true, ceilingBps: null });
    await until(() => progress.length > 0);
    await delay(600);
    expect(progress.at(-1)).toMatchObject({ doing: 'paused', writtenBytes: 0 });
    const targets = ground.items.map(({ target }) => target);
    expect(onShelf(ground.shelf).filter((path) => targets.includes(path))).toEqual([]);
    run.pace(FULL_SPEED);
    expect(await run.end).toEqual({ ended: 'done' });
    expect(outcomes.filter(({ is }) => is === 'copied')).toHaveLength(files);
    expect(progress.at(-1)).toMatchObject({
      writtenBytes: files * bytes,
      readBackBytes: files * bytes,
      settledFiles: files,
    });
  });

  test('it is paused in the middle, and goes on', async () => {
    const { run, progress, outcomes } = started({ paused: false, ceilingBps: 8 * MEBIBYTE });
    await until(() => (progress.at(-1)?.writtenBytes ?? 0) > 0);
    run.pace({ paused: true, ceilingBps: 8 * MEBIBYTE });
    await until(() => progress.at(-1)?.doing === 'paused');
    await delay(100);
    const at = progress.at(-1)?.writtenBytes;
    await delay(800);
    expect(progress.at(-1)?.writtenBytes).toBe(at);
    expect(at).toBeLessThan(files * bytes);
    run.pace(FULL_SPEED);
    expect(await run.end).toEqual({ ended: 'done' });
    expect(outcomes.filter(({ is }) => is === 'copied')).toHaveLength(files);
  });

  test('a stop in the middle leaves nothing', async () => {
    const stop = new AbortController();
    const { run, progress, outcomes } = started({ paused: false, ceilingBps: 8 * MEBIBYTE }, stop.signal);
    await until(() => (progress.at(-1)?.writtenBytes ?? 0) > 0);
    stop.abort();
    expect(await run.end).toEqual({ ended: 'stopped' });
    expect(outcomes).toEqual([]);
    expect(onShelf(ground.shelf)).toEqual([]);
  });
});

test('what a hook throws is what the job ends with', async () => {
  ground.add('Saltmarsh/one.mov', footage(5000, 1));
  const job = { volume: ground.volume, shelf: guardOf(ground.shelf), pace: FULL_SPEED };
  const hooks = { settled: () => Promise.reject(new Error('the ledger cannot be written')) };
  const { end } = copyPort().copy(job, ground.items, hooks, new AbortController().signal);
  await expect(end).rejects.toThrow('the ledger cannot be written');
});

test('a job that was stopped before it began does nothing', async () => {
  ground.add('Saltmarsh/one.mov', footage(5000, 1));
  const { run, outcomes } = started(FULL_SPEED, AbortSignal.abort());
  expect(await run.end).toEqual({ ended: 'stopped' });
  expect(outcomes).toEqual([]);
  expect(onShelf(ground.shelf)).toEqual([]);
});

test('under a ceiling no more is let through than it says, but for the first request', async () => {
  const pace = new SharedPace();
  pace.set({ paused: false, ceilingBps: 10 * MEBIBYTE });
  const request = pace.requestBytes();
  expect(request).toBeLessThanOrEqual((10 * MEBIBYTE) / 8);
  const began = performance.now();
  const readers = Array.from({ length: 4 }, async () => {
    for (let at = 0; at < 3; at++) await pace.wait(request);
  });
  await Promise.all(readers);
  // A timer of the system may go off a part of a millisecond early.
  const seconds = (performance.now() - began + 1) / 1000;
  const allowed = 10 * MEBIBYTE * seconds + request;
  expect(12 * request).toBeLessThanOrEqual(allowed);
});
