import { spawnSync } from 'node:child_process';
import { chmodSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test, vi } from 'vitest';
import type { RootEvent } from '../../../src/core/root-port.ts';
import { forkProcess } from '../../../src/rim/watch/root-process.ts';
import { WatchTroubles } from '../../../src/rim/watch/watch-troubles.ts';
import { canUnshare, raiseLimit, withFewWatches } from './few-watches.ts';
import { kernelWatches } from './kernel-watches.ts';
import { ENTRY, type Watched, watched } from './watched.ts';

const NOBODY = 65_534;

if (!canUnshare)
  console.warn('NOT CHECKED: a real limit of watches. No user namespace can be made here (unshare -U -r).');

const canBeNobody =
  process.geteuid?.() === 0 && spawnSync(process.execPath, ['--check', ENTRY], { uid: NOBODY }).status === 0;
if (!canBeNobody) {
  console.warn(
    'NOT CHECKED: a folder without rights. It takes user 0 to become another user, who can read this project.',
  );
}

const EVERY_SECOND = { sweepEvery: 1, fullSweepEvery: 900 };

const troubles = (w: Watched) => w.picture.events.filter((event) => event.type === 'trouble');

describe('more folders than can be watched', () => {
  (canUnshare ? test : test.skip)(
    'one warning, and passes find what happens in the rest; a higher limit is used as soon as there is one',
    { timeout: 30_000 },
    async () => {
      const w = await watched(
        { settings: EVERY_SECOND, startProcess: withFewWatches('max_inotify_watches', 10) },
        false,
      );
      try {
        for (let dir = 0; dir < 40; dir += 1) mkdirSync(join(w.folder, `card ${dir}`));
        await w.picture.until('the warning', () => w.picture.count('trouble') > 0);
        for (let dir = 0; dir < 40; dir += 1) writeFileSync(join(w.folder, `card ${dir}/a.mov`), 'x');
        await w.picture.until('40 files', () => w.picture.files.size === 40);
        const { pid } = w.root;
        expect(kernelWatches(pid ?? 0)).toBe(10);
        expect(troubles(w)).toEqual([
          expect.objectContaining({
            kind: 'watch-limit',
            detail: expect.stringMatching(/^31 folders .* sudo sysctl fs\.inotify\.max_user_watches=\d+$/),
          }),
        ]);
        expect(raiseLimit(pid ?? 0, 'max_inotify_watches', 100)).toBe(true);
        await until(() => kernelWatches(pid ?? 0) === 41, 6000);
        // Watched now: told by events, in less than the second that a pass takes.
        writeFileSync(join(w.folder, 'card 39/b.mov'), 'x');
        await w.picture.until('by an event', () => w.picture.files.has('card 39/b.mov'), 900);
        expect(w.picture.events.at(-1)?.type).toBe('files');
        expect([troubles(w).length, w.root.pid]).toEqual([1, pid]);
      } finally {
        await w.end();
      }
    },
  );

  (canUnshare ? test : test.skip)('no watch at all: one warning, of the other limit', { timeout: 30_000 }, async () => {
    const w = await watched(
      { settings: EVERY_SECOND, startProcess: withFewWatches('max_inotify_instances', 0) },
      false,
    );
    try {
      for (let dir = 0; dir < 5; dir += 1) mkdirSync(join(w.folder, `card ${dir}`));
      await w.picture.until('the warning', () => w.picture.count('trouble') > 0);
      writeFileSync(join(w.folder, 'card 3/a.mov'), 'x');
      await w.picture.until('the file', () => w.picture.files.has('card 3/a.mov'), 4000);
      expect(troubles(w)).toEqual([
        expect.objectContaining({ detail: expect.stringMatching(/sudo sysctl fs\.inotify\.max_user_instances=\d+$/) }),
      ]);
    } finally {
      await w.end();
    }
  });

  test('ten thousand errors are one sentence, not said again; what is said elsewhere is not said twice', async () => {
    const events: RootEvent[] = [];
    let looked = 0;
    const troubles = new WatchTroubles({
      emit: (event) => events.push(event),
      walking: () => false,
      now: () => performance.now(),
      look: () => {
        looked += 1;
      },
      limit: () => 700_000,
    });
    const fail = (code: string) => Object.assign(new Error(`${code}: failed, watch`), { code });
    for (let folder = 0; folder < 10_000; folder += 1) troubles.add(`${folder}`, fail('ENOSPC'));
    troubles.add('closed', fail('EACCES'));
    troubles.add('a', fail('EIO'));
    troubles.add('b', fail('EIO'));
    await new Promise((resolve) => setTimeout(resolve, 1300));
    const limit =
      '10000 folders cannot be watched: the limit of fs.inotify.max_user_watches is used up. Until it is higher they are ' +
      'looked at from time to time. Raise it with: sudo sysctl fs.inotify.max_user_watches=1400000';
    expect(events).toEqual([
      { type: 'watch-limit', limit: { name: 'max_user_watches', folders: 10_000, wanted: 1_400_000 } },
      { type: 'trouble', kind: 'watch-limit', detail: limit },
      { type: 'trouble', kind: 'watch-error', detail: 'EIO: failed, watch (and 1 more)' },
    ]);
    expect([looked, troubles.unwatched.size]).toEqual([1, 10_000]);
    for (let folder = 0; folder < 15_000; folder += 1) troubles.add(`${folder}`, fail('ENOSPC'));
    await new Promise((resolve) => setTimeout(resolve, 1300));
    // Not said again, but known.
    expect(events.slice(3)).toMatchObject([{ type: 'watch-limit', limit: { folders: 15_000 } }]);
    expect(troubles.unwatched.size).toBe(15_000);
    for (let folder = 0; folder < 15_000; folder += 1) troubles.over(`${folder}`);
    expect(events.slice(4)).toEqual([{ type: 'watch-limit', limit: null }]);
    troubles.add('again', fail('EMFILE'));
    await new Promise((resolve) => setTimeout(resolve, 1300));
    expect(events[5]).toMatchObject({ limit: { name: 'max_user_instances', folders: 1 } });
    expect(events[6]).toMatchObject({ detail: expect.stringContaining('1 folder cannot be watched') });
    expect(events[6]).toMatchObject({
      detail: expect.stringMatching(/sudo sysctl fs.inotify.max_user_instances=1400000$/),
    });
  });
});

test('during a walk nothing is told; after it once, and of much more at most once an hour', async () => {
  vi.useFakeTimers();
  try {
    const told: string[] = [];
    const at = { walking: true, now: 0 };
    const troubles = new WatchTroubles({
      emit: (event) => void (event.type === 'trouble' && told.push(event.detail.slice(0, 10))),
      walking: () => at.walking,
      now: () => at.now,
      look: () => {},
      limit: () => 8192,
    });
    let folders = 0;
    const fail = (many: number) => {
      for (let folder = 0; folder < many; folder += 1)
        troubles.add(`${folders++}`, Object.assign(new Error('ENOSPC: no space'), { code: 'ENOSPC' }));
      at.now += 1100;
      vi.advanceTimersByTime(1100);
    };
    for (let folder = 0; folder < 8; folder += 1) fail(1);
    expect(told).toEqual([]);
    at.walking = false;
    vi.advanceTimersByTime(1100);
    expect(told).toEqual(['8 folders ']);
    for (let many = 16; many < 200; many *= 2) fail(many);
    for (let folder = 0; folder < folders; folder += 1) troubles.over(`${folder}`);
    fail(1);
    expect(told).toHaveLength(1);
    at.now += 3_600_000;
    fail(1);
    expect(told).toEqual(['8 folders ', '2 folders ']);
  } finally {
    vi.useRealTimers();
  }
});

async function until(holds: () => boolean, ms: number): Promise<void> {
  for (const end = performance.now() + ms; !holds() && performance.now() < end; )
    await new Promise((resolve) => setTimeout(resolve, 50));
  expect(holds()).toBe(true);
}

(canBeNobody ? test : test.skip)(
  'a folder that may not be read is named, what was known of it stays, and it is read as soon as it may be',
  async () => {
    const w = await watched(
      { startProcess: (entry, argument) => forkProcess(entry, argument, { uid: NOBODY }) },
      false,
    );
    chmodSync(w.folder, 0o755);
    mkdirSync(join(w.folder, 'closed'));
    writeFileSync(join(w.folder, 'closed/a.mov'), 'x');
    writeFileSync(join(w.folder, 'b.mov'), 'x');
    try {
      await w.picture.until('both', () => w.picture.files.size === 2, 12_000);
      chmodSync(join(w.folder, 'closed'), 0o700);
      await w.root.sweep();
      const told = w.picture.events.findLast((event) => event.type === 'listing' && event.dir === 'closed');
      expect(told).toMatchObject({
        files: [],
        unreadable: [{ path: 'closed', error: expect.stringContaining('EACCES') }],
      });
      expect(w.picture.paths()).toEqual(['b.mov', 'closed/a.mov']);
      writeFileSync(join(w.folder, 'closed/c.mov'), 'x');
      chmodSync(join(w.folder, 'closed'), 0o755);
      await w.picture.until('read again', () => w.picture.files.has('closed/c.mov'), 12_000);
    } finally {
      await w.end();
    }
  },
);
