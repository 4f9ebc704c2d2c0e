import { appendFileSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { afterAll, afterEach, describe, expect, test } from 'vitest';
import type { ProbeOutcome } from '../../../src/core/root-port.ts';
import type { ProbeLimits } from '../../../src/rim/probe/hand.ts';
import { createProber, type Prober } from '../../../src/rim/probe/pool.ts';
import type { FromWorker } from '../../../src/rim/probe/protocol.ts';
import { bytesOf, fixture, fixtures, scratchFolder, statOf, steady } from './files.ts';
import { firstByteWrong, longIndex, manyTracks, random, repeated } from './hostile.ts';

const scratch = scratchFolder();
afterAll(scratch.remove);

let prober: Prober;
afterEach(() => prober.close());

function start(limits: Partial<ProbeLimits> = {}, workers = 1): Prober {
  prober = createProber({ workers, limits, now: () => performance.now() });
  return prober;
}

function ask(path: string): Promise<ProbeOutcome> {
  return prober.probe(path, statOf(path));
}

function file(name: string, bytes: Buffer): string {
  const path = join(scratch.path, name);
  writeFileSync(path, bytes);
  return path;
}

/** The library never comes back from this while it may take all the memory it wants. */
const frozen = () => file('frozen.mp4', repeated(100));
const roomy = { heapLimit: 1_000_000_000 };

/** Threads of this process that probe. The worker has given them their name. */
function probeThreads(): string[] {
  return readdirSync('/proc/self/task').filter(
    (thread) => readFileSync(`/proc/self/task/${thread}/comm`, 'utf8') === 'probe\n',
  );
}

describe('a good file', () => {
  test('comes back with its tracks and how it was when it was read', async () => {
    start();
    const path = fixture('A004C002_270211.mov');
    const outcome = await ask(path);
    expect(outcome).toMatchObject({ ok: true, stat: statOf(path) });
    if (!outcome.ok) return;
    expect(outcome.raw.tracks.map((track) => track['@type'])).toEqual(['General', 'Video', 'Audio', 'Audio', 'Other']);
    expect(outcome.raw.tracks[1]).toMatchObject({ Format: 'ProRes', Format_Profile: '422 HQ', Width: '640' });
  });

  test('a path given as bytes, with bytes that are no UTF-8', async () => {
    start();
    const path = Buffer.concat([Buffer.from(`${scratch.path}/take-`), Buffer.of(0xff, 0xfe), Buffer.from('.mov')]);
    writeFileSync(path, bytesOf('capture_0001.mov'));
    expect(await prober.probe(path, statOf(path))).toMatchObject({ ok: true });
  });

  test('200 at the same time: each has the answer it has alone', async () => {
    start({}, 2);
    const alone = new Map<string, unknown>();
    for (const name of fixtures) alone.set(name, steady(await ask(fixture(name))));
    expect(new Set([...alone.values()].map((answer) => JSON.stringify(answer))).size).toBe(fixtures.length);
    const jobs = Array.from({ length: 200 }, (_, i) => fixtures[(i * 7) % fixtures.length] ?? '');
    const together = await Promise.all(jobs.map(async (name) => [name, steady(await ask(fixture(name)))] as const));
    for (const [name, answer] of together) expect(answer, name).toEqual(alone.get(name));
  }, 60_000);
});

describe('a file that freezes the library', () => {
  test('is given up in time, and the next file is right', async () => {
    start({ ...roomy, stallMs: 1000 });
    const good = fixture('tidewater-a.mov');
    const before = steady(await ask(good));
    const began = performance.now();
    const [bad, after] = await Promise.all([ask(frozen()), ask(good)]);
    const detail = 'the media reader hung on it for 1 s; it is not tried again until it changes';
    expect(bad).toEqual({ ok: false, reason: 'probe-failed', detail });
    expect(steady(after)).toEqual(before);
    expect(performance.now() - began).toBeLessThan(8_000);
  });

  test('is not tried again until it changes', async () => {
    start({ ...roomy, stallMs: 1000 });
    const path = frozen();
    await ask(path);
    const began = performance.now();
    expect(await ask(path)).toMatchObject({
      reason: 'probe-failed',
      detail: expect.stringContaining('not tried again'),
    });
    expect(performance.now() - began).toBeLessThan(500);
    writeFileSync(path, bytesOf('S003_0042.MP4'));
    expect(await ask(path)).toMatchObject({ ok: true });
  });

  test('the limit on the whole time holds as well', async () => {
    start({ ...roomy, stallMs: 60_000, totalMs: 500 });
    const detail = 'it was not read through in 500 ms; it is not tried again until it changes';
    expect(await ask(frozen())).toMatchObject({ ok: false, detail });
  });

  test('does not outlive closing', async () => {
    start(roomy);
    const pending = ask(frozen());
    const queued = ask(fixture('tidewater-a.mov'));
    await new Promise((resolve) => setTimeout(resolve, 400));
    await prober.close();
    expect(await pending).toMatchObject({ ok: false, reason: 'probe-failed' });
    expect(await queued).toMatchObject({ ok: false, detail: 'the media reader is closed' });
    expect(await ask(fixture('tidewater-a.mov'))).toMatchObject({ ok: false, detail: 'the media reader is closed' });
  });
});

describe('what the container tells', () => {
  test('comes with the answer of the library', async () => {
    start();
    const outcome = await ask(fixture('A004C002_270211.mov'));
    expect(outcome).toMatchObject({
      raw: { structure: { container: 'QuickTime', tracks: [{ type: 'picture', width: 640 }, {}, {}, {}] } },
    });
  });

  test('is the answer where the library is ended, now and when it is asked again', async () => {
    // As much as it has from the start: when it wants more it is ended.
    start({ heapLimit: 0 });
    const path = file('index.mp4', longIndex(3_000_000));
    const began = performance.now();
    const first = await ask(path);
    expect(first).toMatchObject({ ok: true, raw: { tracks: [], structure: { container: 'MP4' } } });
    if (!first.ok) return;
    expect(first.raw.readerTrouble).toMatch(/media reader .*; it is not tried again until it changes$/);
    const took = performance.now() - began;
    const again = performance.now();
    expect(await ask(path)).toEqual(first);
    expect(performance.now() - again).toBeLessThan(took / 4);
  });

  test('is all that is asked of a file with more tracks than any camera writes', async () => {
    start();
    const outcome = await ask(file('tracks.mov', manyTracks(5000)));
    expect(outcome).toMatchObject({ ok: true, raw: { tracks: [], structure: { container: 'QuickTime' } } });
    expect(outcome.ok && outcome.raw.readerTrouble).toBe(
      'the media reader is not asked about a file of 128 tracks or more',
    );
  });

  test('is none where there is no picture and no sound in it', async () => {
    start();
    const outcome = await ask(fixture('tape07_scene12.dv'));
    expect(outcome).toMatchObject({ ok: true, raw: { structure: null } });
  });
});

describe('a file that takes too much memory', () => {
  test('is given up at the limit, and the next file is right', async () => {
    start({ heapLimit: 48 * 1_048_576 });
    const path = file('greedy.mp4', firstByteWrong(20_000_000));
    expect(await ask(path)).toMatchObject({
      reason: 'probe-failed',
      detail: expect.stringContaining('more than 50 MB of memory'),
    });
    expect(await ask(fixture('C0001.MXF'))).toMatchObject({ ok: true });
    expect(await ask(path)).toMatchObject({ detail: expect.stringContaining('not tried again') });
  });
});

describe('where the library runs', () => {
  test('not on the thread that asks: nothing of wasm is used there', async () => {
    const { WebAssembly } = globalThis as unknown as { WebAssembly: Record<string, unknown> };
    const kept = { ...Object.getOwnPropertyDescriptors(WebAssembly) };
    const used: string[] = [];
    for (const name of ['Module', 'Instance', 'Memory', 'compile', 'instantiate']) {
      const refuse = () => used.push(name);
      Object.defineProperty(WebAssembly, name, { get: refuse, configurable: true });
    }
    try {
      start();
      expect(await ask(fixture('tidewater-b.mov'))).toMatchObject({ ok: true });
    } finally {
      Object.defineProperties(WebAssembly, kept);
    }
    expect(used).toEqual([]);
  });

  test('jobs that come to one worker all at once are done one after the other', async () => {
    start();
    const names = Array.from({ length: 20 }, (_, i) => fixtures[(i * 7) % fixtures.length] ?? '');
    const alone = new Map<string, unknown>();
    for (const name of names) alone.set(name, steady(await ask(fixture(name))));
    const workerData = { signs: new SharedArrayBuffer(4), heapLimit: 64 * 1_048_576 };
    const worker = new Worker(new URL('../../../src/rim/probe/worker.ts', import.meta.url), { workerData });
    try {
      const answers = await new Promise<unknown[]>((resolve, reject) => {
        const got: unknown[] = [];
        worker.once('error', reject).on('message', (message: FromWorker) => {
          if (message.type !== 'done') return;
          got[message.id] = steady(message.outcome);
          if (Object.keys(got).length === names.length) resolve(got);
        });
        for (const [id, name] of names.entries()) {
          worker.postMessage({ id, path: fixture(name), stat: statOf(fixture(name)) });
        }
      });
      for (const [id, name] of names.entries()) expect(answers[id], name).toEqual(alone.get(name));
    } finally {
      await worker.terminate();
    }
  });

  test('twenty thousand who ask for a file that is not tried again are all told', async () => {
    start({ ...roomy, totalMs: 300 });
    const path = frozen();
    await ask(path);
    const told = await Promise.all(Array.from({ length: 20_000 }, () => ask(path)));
    expect(told.every((outcome) => !outcome.ok && outcome.detail.includes('not tried again'))).toBe(true);
  });
});

describe('replacing workers', () => {
  test.each([
    ['after so many jobs', { recycleJobs: 2 }],
    ['after so much memory', { recycleHeap: 1 }],
    ['at an age', { recycleMs: 1 }],
  ])('%s, answers stay the same', async (_name, limits) => {
    start(limits);
    const path = fixture('B001C001_270211.mxf');
    const answers = [];
    const threads = new Set<string>();
    for (let i = 0; i < 5; i++) {
      answers.push(JSON.stringify(steady(await ask(path))));
      for (const thread of probeThreads()) threads.add(thread);
    }
    expect(new Set(answers).size).toBe(1);
    expect(answers[0]).toContain('DNxHR LB');
    expect(threads.size).toBeGreaterThan(1);
  });

  test('one that is well stays', async () => {
    start();
    const threads = new Set<string>();
    for (let i = 0; i < 5; i++) {
      await ask(fixture('tidewater-a.mov'));
      for (const thread of probeThreads()) threads.add(thread);
    }
    expect(threads.size).toBe(1);
  });

  test('one without work is let go, and another comes for the next file', async () => {
    start({ restMs: 200 });
    const path = fixture('tidewater-c.mov');
    const before = steady(await ask(path));
    expect(probeThreads().length).toBe(1);
    await expect.poll(() => probeThreads().length, { timeout: 5000 }).toBe(0);
    expect(steady(await ask(path))).toEqual(before);
  });

  test('a worker that cannot start is not the fault of the file', async () => {
    start({ startMs: 1 });
    const path = fixture('tidewater-b.mov');
    const first = await ask(path);
    expect(first).toMatchObject({
      ok: false,
      reason: 'probe-failed',
      detail: expect.stringContaining('did not start'),
    });
    expect(await ask(path)).toEqual(first);
  });
});

describe('what is no media, or cannot be read', () => {
  const refused = (bytes: Buffer, name: string) => {
    start();
    return ask(file(name, bytes));
  };

  test('64 MB of zeros', async () => {
    const began = performance.now();
    const told = await refused(Buffer.alloc(64_000_000), 'zeros.mov');
    expect(told).toMatchObject({ ok: false, reason: 'not-media', detail: expect.stringContaining('all zeros') });
    expect(performance.now() - began).toBeLessThan(2_000);
  });

  test('a text file, an empty file, random content', async () => {
    expect(await refused(Buffer.from('not a clip\n'), 'text.mov')).toMatchObject({
      reason: 'not-media',
      detail: 'its content is text',
    });
    expect(await refused(Buffer.alloc(0), 'empty.mov')).toMatchObject({
      reason: 'not-media',
      detail: 'the file is empty',
    });
    expect(await refused(random(8_000_000), 'random.mov')).toMatchObject({ reason: 'not-media' });
  });

  test('a clip cut before its index has no tracks', async () => {
    const told = await refused(bytesOf('A004C002_270211.mov').subarray(0, 100_000), 'cut.mov');
    expect(told).toMatchObject({ reason: 'not-media', detail: expect.stringContaining('begins as MPEG-4') });
  });

  test('a file that is gone, or a folder', async () => {
    start();
    const path = fixture('tidewater-a.mov');
    expect(await prober.probe(join(scratch.path, 'gone.mov'), statOf(path))).toMatchObject({
      reason: 'unreadable',
      detail: 'no such file or directory (ENOENT)',
    });
    expect(await prober.probe(scratch.path, statOf(path))).toMatchObject({ reason: 'unreadable' });
  });

  test('a file that is no longer as it was seen', async () => {
    start();
    const path = file('grows.mov', bytesOf('tidewater-a.mov'));
    const seen = statOf(path);
    appendFileSync(path, 'more');
    expect(await prober.probe(path, seen)).toMatchObject({
      reason: 'changed-meanwhile',
      detail: `its size went from ${seen.size} to ${seen.size + 4} bytes`,
    });
  });
});
