import { Worker } from 'node:worker_threads';
import { afterEach, describe, expect, test } from 'vitest';
import { watchOver } from '../../../src/rim/probe/watch.ts';

const workers: Worker[] = [];
afterEach(async () => void (await Promise.all(workers.splice(0).map((worker) => worker.terminate()))));

/** A worker that runs this, with the counter as `signs`. */
function run(source: string): { worker: Worker; signs: Int32Array } {
  const shared = new SharedArrayBuffer(4);
  const before =
    "const { parentPort, workerData } = require('node:worker_threads'); const signs = new Int32Array(workerData);";
  const worker = new Worker(`${before} ${source}`, { eval: true, workerData: shared });
  workers.push(worker);
  return { worker, signs: new Int32Array(shared) };
}

const SILENT = 'setInterval(() => {}, 1e6)';
const real = () => performance.now();

describe('a worker under watch', () => {
  test('that gives signs of life is waited for, up to the limit in all', async () => {
    const { worker, signs } = run('setInterval(() => Atomics.add(signs, 0, 2), 5)');
    const began = real();
    const ending = await watchOver(worker, signs, real).next({ stallMs: 400, totalMs: 1500 });
    expect(ending).toEqual({ type: 'late', detail: 'it was not read through in 1 s' });
    expect(real() - began).toBeGreaterThan(1000);
  });

  test('that is silent is given up', async () => {
    const { worker, signs } = run(SILENT);
    const ending = await watchOver(worker, signs, real).next({ stallMs: 200, totalMs: 60_000 });
    expect(ending).toEqual({ type: 'late', detail: 'the media reader hung on it for 200 ms' });
  });

  test('that is silent in a read blames the drive', async () => {
    const { worker, signs } = run(SILENT);
    Atomics.add(signs, 0, 1);
    const ending = await watchOver(worker, signs, real).next({ stallMs: 200, totalMs: 60_000 });
    expect(ending).toEqual({ type: 'stuck', detail: 'the drive did not answer for 200 ms' });
  });

  test('time in which this process stood still does not count', async () => {
    const { worker, signs } = run("setTimeout(() => parentPort.postMessage({ type: 'ready' }), 1000)");
    let stoodStill = 0;
    setTimeout(() => {
      stoodStill = 3_600_000;
    }, 300);
    const watch = watchOver(worker, signs, () => real() + stoodStill);
    expect(await watch.next({ stallMs: 5000, totalMs: 20_000 })).toMatchObject({ type: 'message' });
  });

  test('that fails or ends by itself is gone for good', async () => {
    const failing = run("throw new Error('no such page')");
    const watch = watchOver(failing.worker, failing.signs, real);
    const patience = { stallMs: 10_000, totalMs: 10_000 };
    expect(await watch.next(patience)).toEqual({ type: 'gone', detail: 'the media reader failed: no such page' });
    expect(watch.isGone()).toBe(true);
    expect(await watch.next(patience)).toMatchObject({ type: 'gone' });
    const leaving = run('process.exit(3)');
    expect(await watchOver(leaving.worker, leaving.signs, real).next(patience)).toEqual({
      type: 'gone',
      detail: 'the media reader ended by itself (3)',
    });
  });
});
