import * as nodeFs from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { Flood } from '../../../src/rim/watch/flood.ts';
import type { ChildEvent } from '../../../src/rim/watch/packing.ts';
import { Rounds } from '../../../src/rim/watch/rounds.ts';
import { Session } from '../../../src/rim/watch/session.ts';
import { Suspects } from '../../../src/rim/watch/suspects.ts';
import { canUnshare, withFewWatches } from './few-watches.ts';
import { temporaryFolder, watched } from './watched.ts';

describe('a flood of events', () => {
  const names = (flood: Flood, every = 0): number => {
    for (let name = 1; name < 100_000; name += 1) if (flood.event(1000 + name * every)) return name;
    return 0;
  };

  test.each([
    [null, 4001],
    [16_384, 4001],
    [1024, 257],
    [1_000_000, 4001],
  ])('where the queue holds %s events, it is the %s. within half a second', (queue, name) => {
    expect(names(new Flood(queue))).toBe(name);
  });

  test('not over a longer time', () => expect(names(new Flood(16_384), 1)).toBe(0));
});

describe('folders in which something happened lately', () => {
  beforeEach(() => void vi.useFakeTimers());
  afterEach(() => void vi.useRealTimers());

  test('are read once, after a loss and all that follows it; not those of earlier', () => {
    const read: string[] = [];
    const suspects = new Suspects((dir) => void read.push(dir));
    suspects.event('early/a.mov', 0);
    suspects.event('P/b.mov', 50_000);
    suspects.event('c.mov', 70_000);
    suspects.mistrust(70_000);
    vi.advanceTimersByTime(900);
    suspects.event('late/d.mov', 70_900);
    suspects.mistrust(70_900);
    vi.advanceTimersByTime(900);
    expect(read).toEqual([]);
    vi.advanceTimersByTime(200);
    expect(read).toEqual(['P', '', 'late']);
  });

  test('after ten seconds in any case', () => {
    const read: string[] = [];
    const suspects = new Suspects((dir) => void read.push(dir));
    suspects.event('P/b.mov', 0);
    for (let at = 0; at < 10_500; at += 500) {
      suspects.mistrust(at);
      vi.advanceTimersByTime(500);
    }
    expect(read).toEqual(['P']);
  });
});

describe('folders without a watch', () => {
  const some = (many: number) => new Set(Array.from({ length: many }, (_, at) => `${at}`));

  test.each([
    [1, 1],
    [120, 2],
    [10_000, 50],
  ])('%i of them: so many at once, each once a round: %i', (many, atOnce) => {
    const rounds = new Rounds();
    const read: string[] = [];
    const seconds = Math.ceil(many / atOnce);
    for (let second = 0; second < Math.max(60, seconds); second += 1) {
      const next = rounds.next(some(many), second * 1000);
      expect(next.length).toBeLessThanOrEqual(atOnce);
      read.push(...next);
    }
    expect([read.length, new Set(read).size]).toEqual([many, many]);
    expect(rounds.next(some(many), Math.max(60, seconds) * 1000)).toHaveLength(atOnce);
  });

  test('one that is watched by now is left out', () => {
    const rounds = new Rounds();
    expect(rounds.next(some(120), 0)).toEqual(['0', '1']);
    expect(rounds.next(new Set(['3']), 1000)).toEqual(['3']);
  });
});

test('after a flood the folders it came from are read, although their times say that nothing happened', async () => {
  const base = nodeFs.realpathSync(temporaryFolder());
  for (const dir of ['busy', 'calm']) nodeFs.mkdirSync(join(base, dir));
  for (const path of ['busy/a.mov', 'busy/c.mov', 'calm/b.mov']) nodeFs.writeFileSync(join(base, path), 'x');
  // A folder that was read within two seconds of its time is read again in any case.
  for (const dir of ['busy', 'calm', '']) nodeFs.utimesSync(join(base, dir), 1000, 1000);
  const events: ChildEvent[] = [];
  const { dev, ino } = nodeFs.statSync(base, { bigint: true });
  const readFileSync = (path: string): string => (path.endsWith('/max_queued_events') ? '40' : '');
  const session = new Session({
    fs: { ...nodeFs, readFileSync },
    found: { base, device: dev, ino, mount: null },
    settings: { sweepEvery: 600, fullSweepEvery: 900 },
    skip: () => false,
    emit: (event) => void events.push(event),
    room: () => undefined,
    rootChanged: () => false,
    defers: () => false,
    isOpen: () => false,
    deferred: () => {},
  });
  try {
    session.start();
    await vi.waitFor(() => expect(events.at(-1)?.type).toBe('swept'), 5000);
    await pause(300);
    const before = events.length;
    // In turns: the kernel makes one event of several alike.
    for (let write = 0; write < 30; write += 1)
      nodeFs.appendFileSync(join(base, `busy/${write % 2 ? 'a' : 'c'}.mov`), 'x');
    await vi.waitFor(
      () => {
        const read = events.slice(before).flatMap((event) => (event.type === 'listing' ? [event.dir] : []));
        expect(read).toEqual(['busy']);
      },
      { timeout: 5000 },
    );
  } finally {
    session.close();
    nodeFs.rmSync(base, { recursive: true });
  }
});

if (!canUnshare)
  console.warn('NOT CHECKED: a write in place in a folder without a watch. No user namespace can be made.');
(canUnshare ? test : test.skip)(
  'written in place in a folder that the limit left without a watch: found within a minute',
  { timeout: 90_000 },
  async () => {
    const folder = temporaryFolder();
    for (let dir = 0; dir < 8; dir += 1) {
      nodeFs.mkdirSync(join(folder, `card ${dir}`));
      nodeFs.writeFileSync(join(folder, `card ${dir}/a.mov`), 'x');
      nodeFs.utimesSync(join(folder, `card ${dir}`), 1000, 1000);
    }
    const startProcess = withFewWatches('max_inotify_watches', 3);
    const w = await watched({ root: folder, settings: { sweepEvery: 1, fullSweepEvery: 900 }, startProcess });
    try {
      await pause(3000);
      for (let dir = 0; dir < 8; dir += 1) nodeFs.appendFileSync(join(folder, `card ${dir}/a.mov`), 'yz');
      const sizes = () => [...w.picture.files.values()].map(({ size }) => size);
      await w.picture.until('all eight', () => sizes().join() === '3,3,3,3,3,3,3,3', 72_000);
    } finally {
      await w.end();
      nodeFs.rmSync(folder, { recursive: true });
    }
  },
);
