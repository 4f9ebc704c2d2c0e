import { spawnSync } from 'node:child_process';
import { chmodSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { RootEvent } from '../../../src/core/ports.ts';
import { forkProcess } from '../../../src/rim/watch/root-process.ts';
import { WatchTroubles } from '../../../src/rim/watch/watch-troubles.ts';
import { ENTRY, watched } from './watched.ts';

/** Runs node in a user namespace of its own in which only `$0` folders can be watched. */
const FEW_WATCHES = 'echo "$0" > /proc/sys/user/max_inotify_watches && exec "$@"';
const NOBODY = 65_534;

const canUnshare = spawnSync('unshare', ['-U', '-r', 'sh', '-c', FEW_WATCHES, '10', 'true']).status === 0;
if (!canUnshare)
  console.warn('NOT CHECKED: a real limit of watches. No user namespace can be made here (unshare -U -r).');

const canBeNobody =
  process.geteuid?.() === 0 && spawnSync(process.execPath, ['--check', ENTRY], { uid: NOBODY }).status === 0;
if (!canBeNobody) {
  console.warn(
    'NOT CHECKED: a folder without rights. It takes user 0 to become another user, who can read this project.',
  );
}

describe('more folders than can be watched', () => {
  (canUnshare ? test : test.skip)(
    'one warning, and passes find what happens in the rest',
    { timeout: 30_000 },
    async () => {
      const w = await watched(
        {
          settings: { sweepEvery: 1, fullSweepEvery: 900 },
          startProcess: (entry, argument) =>
            forkProcess(entry, argument, {
              execPath: 'unshare',
              execArgv: ['-U', '-r', 'sh', '-c', FEW_WATCHES, '10', process.execPath],
            }),
        },
        false,
      );
      try {
        for (let dir = 0; dir < 40; dir += 1) mkdirSync(join(w.folder, `card ${dir}`));
        await w.picture.until('the warning', () => w.picture.count('trouble') > 0);
        for (let dir = 0; dir < 40; dir += 1) writeFileSync(join(w.folder, `card ${dir}/a.mov`), 'x');
        await w.picture.until('40 files', () => w.picture.files.size === 40);
        const troubles = w.picture.events.filter((event) => event.type === 'trouble');
        expect(troubles).toEqual([
          expect.objectContaining({ kind: 'watch-limit', detail: expect.stringMatching(/^3\d folders/) }),
        ]);
      } finally {
        await w.end();
      }
    },
  );

  test('ten thousand errors are one sentence; what is said elsewhere is not said twice', async () => {
    const events: RootEvent[] = [];
    let looked = 0;
    const troubles = new WatchTroubles(
      (event) => events.push(event),
      () => (looked += 1),
    );
    const fail = (code: string) => Object.assign(new Error(`${code}: failed, watch`), { code });
    for (let folder = 0; folder < 10_000; folder += 1) troubles.add(fail('ENOSPC'));
    troubles.add(fail('EACCES'));
    troubles.add(fail('EIO'));
    troubles.add(fail('EIO'));
    await new Promise((resolve) => setTimeout(resolve, 1300));
    expect(events).toEqual([
      { type: 'trouble', kind: 'watch-limit', detail: expect.stringContaining('10000 folders cannot be watched') },
      { type: 'trouble', kind: 'watch-error', detail: 'EIO: failed, watch (and 1 more)' },
    ]);
    expect([looked, troubles.unwatched]).toEqual([1, true]);
  });
});

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
