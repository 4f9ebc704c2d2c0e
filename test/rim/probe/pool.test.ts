import { appendFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, afterEach, describe, expect, test } from 'vitest';
import type { ProbeOutcome } from '../../../src/core/root-port.ts';
import type { ProbeLimits } from '../../../src/rim/probe/hand.ts';
import { createProber, type Prober } from '../../../src/rim/probe/pool.ts';
import { bytesOf, fixture, fixtures, scratchFolder, statOf } from './files.ts';

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

/** Tracks without `Delay`, which the library gives at random for MXF: same file, same instance, two values. */
function steady(outcome: ProbeOutcome): unknown {
  if (!outcome.ok) return outcome;
  return outcome.raw.tracks.map((track) =>
    Object.fromEntries(Object.entries(track).filter(([key]) => !key.includes('Delay') && key !== 'extra')),
  );
}

/** The library never comes back from this: an MP4 whose first byte is wrong, several times over. */
function frozen(): string {
  const clip = bytesOf('S003_0042.MP4');
  clip[0] = 0x7f;
  return file('frozen.mp4', Buffer.concat(Array.from({ length: 100 }, () => clip)));
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
    start({ stallMs: 1000 });
    const good = fixture('tidewater-a.mov');
    const before = steady(await ask(good));
    const began = performance.now();
    const [bad, after] = await Promise.all([ask(frozen()), ask(good)]);
    expect(bad).toEqual({ ok: false, reason: 'probe-failed', detail: 'the media reader hung on it for 1 s' });
    expect(steady(after)).toEqual(before);
    expect(performance.now() - began).toBeLessThan(8_000);
  });

  test('is not tried again until it changes', async () => {
    start({ stallMs: 1000 });
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
    start({ stallMs: 60_000, totalMs: 500 });
    expect(await ask(frozen())).toMatchObject({ ok: false, detail: 'it was not read through in 0.5 s' });
  });

  test('does not outlive closing', async () => {
    start();
    const pending = ask(frozen());
    const queued = ask(fixture('tidewater-a.mov'));
    await new Promise((resolve) => setTimeout(resolve, 400));
    await prober.close();
    expect(await pending).toMatchObject({ ok: false, reason: 'probe-failed' });
    expect(await queued).toMatchObject({ ok: false, detail: 'the media reader is closed' });
    expect(await ask(fixture('tidewater-a.mov'))).toMatchObject({ ok: false, detail: 'the media reader is closed' });
  });
});

describe('a file that takes too much memory', () => {
  test('is given up at the limit, and the next file is right', async () => {
    start({ heapLimit: 48 * 1_048_576 });
    const clip = bytesOf('S003_0042.MP4');
    clip[0] = 0x7f;
    const path = file('greedy.mp4', Buffer.concat([clip, Buffer.alloc(20_000_000)]));
    expect(await ask(path)).toMatchObject({
      reason: 'probe-failed',
      detail: expect.stringContaining('more than 50 MB of memory'),
    });
    expect(await ask(fixture('C0001.MXF'))).toMatchObject({ ok: true });
    expect(await ask(path)).toMatchObject({ detail: expect.stringContaining('not tried again') });
  });
});

describe('replacing workers', () => {
  test.each([
    ['after so many jobs', { recycleJobs: 2 }],
    ['after so much memory', { recycleHeap: 1 }],
  ])('%s, answers stay the same', async (_name, limits) => {
    start(limits);
    const path = fixture('B001C001_270211.mxf');
    const answers = [];
    for (let i = 0; i < 5; i++) answers.push(JSON.stringify(steady(await ask(path))));
    expect(new Set(answers).size).toBe(1);
    expect(answers[0]).toContain('DNxHR LB');
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
    const random = Buffer.alloc(8_000_000);
    let state = 1;
    for (let i = 0; i < random.length; i++) {
      state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
      random[i] = state >>> 24;
    }
    expect(await refused(random, 'random.mov')).toMatchObject({ reason: 'not-media' });
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
