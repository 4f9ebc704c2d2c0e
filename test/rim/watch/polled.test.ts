import { appendFileSync, lstatSync, mkdirSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { compareSeen } from '../../../src/core/intake/compare.ts';
import { canUnshare, withFewWatches } from './few-watches.ts';
import { boundVolume, exfatVolume, type FuseVolume, whyNot } from './fuse-volume.ts';
import { type Watched, watched } from './watched.ts';

function onVolume(name: string, make: () => FuseVolume, body: (volume: FuseVolume) => Promise<void>): void {
  const why = whyNot(make);
  if (why !== null) console.warn(`NOT CHECKED: ${name}. No such volume can be mounted here: ${why}`);
  (why === null ? test : test.skip)(name, { timeout: 60_000 }, async () => {
    const volume = make();
    volume.mount();
    try {
      await body(volume);
    } finally {
      volume.remove();
    }
  });
}

function timesTold(w: Watched, dir: string): number {
  return w.picture.events.filter((event) => event.type === 'listing' && event.dir === dir).length;
}

onVolume('exFAT: an untouched volume is untouched after it was mounted again', exfatVolume, async (volume) => {
  const at = (path: string) => join(volume.mountPoint, path);
  mkdirSync(at('Saltmarsh/card'), { recursive: true });
  for (let clip = 0; clip < 20; clip += 1) writeFileSync(at(`Saltmarsh/card/${clip}.mov`), 'x'.repeat(clip));
  const inode = (clip: number) => lstatSync(at(`Saltmarsh/card/${clip}.mov`)).ino;
  const w = await watched({ root: volume.mountPoint });
  try {
    // Asked for one by one, from the last: that is the order in which they get their inodes.
    const first = [19, 7, 0].map(inode);
    const before = new Map(w.picture.files);
    volume.unmount();
    await w.picture.until('absent', () => w.picture.state === 'absent', 4000);
    volume.mount();
    const again = [7, 0, 19].map(inode);
    const swept = w.picture.count('swept');
    await w.picture.until('swept again', () => w.picture.count('swept') > swept, 8000);
    expect(again.toSorted()).not.toEqual(first.toSorted());
    expect(w.picture.files.size).toBe(20);
    for (const [path, file] of w.picture.files) {
      expect([path, compareSeen(before.get(path) ?? null, file)]).toEqual([
        path,
        { verdict: 'same', reason: 'identical' },
      ]);
      // Nothing may take it for a link of another, or find it again by its inode.
      expect([file.ino, file.nlink]).toEqual([0n, 1]);
    }
    const [evidence] = await w.root.inspect(['Saltmarsh/card/7.mov']);
    expect([evidence?.stat?.ino, evidence?.stat?.size, evidence?.writers]).toEqual([0n, 7, 'none']);
    const seen = w.picture.files.get('Saltmarsh/card/7.mov');
    if (seen === undefined) throw new Error('7.mov is not there');
    // The reader is handed the inode that is, and its answer comes back without.
    expect(await w.root.probe(seen)).toMatchObject({ ok: true, stat: { ino: 0n, size: 7 } });
    expect(await w.root.probe({ ...seen, size: 8 })).toMatchObject({ stat: { ino: 0n, size: 8 } });
  } finally {
    await w.end();
  }
});

onVolume('exFAT: a rename without an event is found, though the folder keeps its time', exfatVolume, async (volume) => {
  const at = (path: string) => join(volume.mountPoint, path);
  for (const dir of ['card', 'other']) mkdirSync(at(dir));
  writeFileSync(at('card/a.mov'), 'x');
  if (!canUnshare) console.warn('NOT CHECKED: that it is a walk that finds it. No user namespace can be made here.');
  const deaf = canUnshare ? { startProcess: withFewWatches('max_inotify_instances', 0) } : {};
  const w = await watched({ root: volume.mountPoint, ...deaf });
  try {
    // A folder that was read within two seconds of its time is read again in any case.
    await pause(2500);
    renameSync(at('card/a.mov'), at('card/b.mov'));
    await w.picture.until('renamed', () => w.picture.paths().join() === 'card/b.mov', 9000);
    const told = timesTold(w, 'other');
    const swept = w.picture.count('swept');
    await w.picture.until('two more walks', () => w.picture.count('swept') >= swept + 2, 15_000);
    // A walk that finds a folder as it was says nothing of it.
    expect(timesTold(w, 'other')).toBe(told);
  } finally {
    await w.end();
  }
});

onVolume(
  'what another machine writes on a network mount is found within a few seconds',
  boundVolume,
  async (volume) => {
    const behind = (path: string) => join(volume.behind, path);
    mkdirSync(behind('card'));
    writeFileSync(behind('card/a.mov'), 'x');
    const w = await watched({ root: volume.mountPoint });
    try {
      expect(w.picture.paths()).toEqual(['card/a.mov']);
      writeFileSync(behind('card/b.mov'), 'x');
      await w.picture.until('a new file', () => w.picture.files.has('card/b.mov'), 9000);
      await pause(1100);
      appendFileSync(behind('card/a.mov'), 'yz');
      await w.picture.until('a file that grew', () => w.picture.files.get('card/a.mov')?.size === 3, 9000);
      // Local events count here as well.
      writeFileSync(join(volume.mountPoint, 'card/c.mov'), 'x');
      await w.picture.until('a file written here', () => w.picture.files.has('card/c.mov'), 1500);
    } finally {
      await w.end();
    }
  },
);
