import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { KnownMount } from '../../../src/rim/watch/drive.ts';
import { type LoopVolume, loopVolume, whyNoMounts } from './loop-volume.ts';
import { type Watched, watched } from './watched.ts';

const whyNot = whyNoMounts();
if (whyNot !== null) {
  console.warn(
    `NOT CHECKED: unmount and remount, absent root, late mount, mounts below a root. No volume can be mounted here: ${whyNot}`,
  );
}

/** A test on a volume of its own. */
function onVolume(
  name: string,
  body: (volume: LoopVolume, watch: (at?: string) => Promise<Watched>) => Promise<void>,
): void {
  (whyNot === null ? test.concurrent : test.skip)(name, { timeout: 40_000 }, async () => {
    const volume = loopVolume();
    const running: Watched[] = [];
    const watch = async (at = volume.mountPoint) => {
      const started = await watched({ root: at }, false);
      running.push(started);
      return started;
    };
    try {
      await body(volume, watch);
    } finally {
      for (const one of running) await one.end();
      volume.remove();
    }
  });
}

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
const swept = (w: Watched, more = 1) => {
  const wanted = w.picture.count('swept') + more;
  return w.picture.until('a sweep', () => w.picture.count('swept') >= wanted, 8000);
};

describe('a volume that comes and goes', () => {
  onVolume(
    'pulled out: absent, nothing told gone; back: live within 3 s, with watches that hear',
    async (volume, watch) => {
      volume.mount();
      mkdirSync(join(volume.mountPoint, 'Saltmarsh/card'), { recursive: true });
      for (let clip = 0; clip < 200; clip += 1)
        writeFileSync(join(volume.mountPoint, `Saltmarsh/card/${clip}.mov`), 'x');
      const w = await watch();
      await swept(w);
      await pause(500);
      for (let round = 0; round < 2; round += 1) {
        volume.unmount();
        await w.picture.until('absent', () => w.picture.state === 'absent', 3000);
        // What lies in the folder below the mount point is not the volume's.
        writeFileSync(join(volume.mountPoint, `stray ${round}.mov`), 'x');
        await expect(w.root.space()).rejects.toThrow('nothing is mounted at');
        await expect(w.root.sweep()).rejects.toThrow('nothing is mounted at');
        await expect(w.root.inspect(['Saltmarsh/card/1.mov'])).rejects.toThrow('nothing is mounted at');
        await pause(1500);
        expect([w.picture.count('gone'), w.picture.files.size]).toEqual([0, 200 + round]);
        volume.mount();
        const mounted = performance.now();
        await w.picture.until('live', () => w.picture.state === 'live', 3000);
        await w.picture.until('heard', () => hears(w, volume, round), 3000 - (performance.now() - mounted) + 1000);
        expect(w.picture.files.size).toBe(201 + round);
      }
    },
  );

  onVolume('unmounted while it is being written and read: still nothing told gone', async (volume, watch) => {
    volume.mount();
    for (let dir = 0; dir < 100; dir += 1) {
      mkdirSync(join(volume.mountPoint, `${dir}`));
      for (let clip = 0; clip < 20; clip += 1) writeFileSync(join(volume.mountPoint, `${dir}/${clip}.mov`), 'x');
    }
    const w = await watch();
    await swept(w);
    for (let round = 0; round < 5; round += 1) {
      w.root.sweep().catch(() => {});
      await pause(round * 8);
      volume.unmount();
      await w.picture.until('absent', () => w.picture.state === 'absent', 3000);
      expect([round, w.picture.files.size, w.picture.count('gone')]).toEqual([round, 2000, 0]);
      volume.mount();
      await swept(w);
    }
    expect(w.picture.files.size).toBe(2000);
  });

  onVolume('not there at the start, mounted later onto the empty folder', async (volume, watch) => {
    const w = await watch();
    await w.picture.until('live on the folder', () => w.picture.state === 'live');
    await pause(500);
    volume.mount();
    writeFileSync(join(volume.mountPoint, 'a.mov'), 'x');
    await w.picture.until('what is on it', () => w.picture.files.has('a.mov'), 4000);
    volume.unmount();
    await w.picture.until('absent', () => w.picture.state === 'absent', 3000);
    expect(w.picture.paths()).toEqual(['a.mov']);
  });

  onVolume('known to be a mount, and the folder is there without it: absent from the start', async (volume) => {
    writeFileSync(join(volume.mountPoint, 'stray.mov'), 'x');
    const w = await watched({ root: volume.mountPoint, known: { mountPoint: volume.mountPoint, drive: null } }, false);
    try {
      await w.picture.until('absent', () => w.picture.state === 'absent', 3000);
      expect(w.picture.files.size).toBe(0);
      volume.mount();
      await w.picture.until('live', () => w.picture.state === 'live', 3000);
    } finally {
      await w.end();
    }
  });

  onVolume('another drive at the same place: absent, nothing told, and the right one is live again', async (volume) => {
    volume.mount();
    mkdirSync(join(volume.mountPoint, 'Saltmarsh'));
    writeFileSync(join(volume.mountPoint, 'Saltmarsh/a.mov'), 'x');
    // Without udev two drives are told apart by the second in which they were formatted.
    await pause(1100);
    const other = loopVolume(volume.mountPoint);
    const kept: KnownMount[] = [];
    const w = await watched({ root: volume.mountPoint, onMounted: (known) => kept.push(known) });
    const later: Watched[] = [];
    try {
      volume.unmount();
      other.mount();
      writeFileSync(join(other.mountPoint, 'stray.mov'), 'x');
      await w.picture.until('absent', () => w.picture.state === 'absent', 4000);
      await pause(2500);
      const state = w.picture.events.findLast((event) => event.type === 'state');
      expect(state).toMatchObject({
        state: 'absent',
        detail: expect.stringMatching(
          /^another drive is mounted there \(expected .*, found .*give the volume a new name/,
        ),
      });
      expect([w.picture.paths(), w.picture.count('gone')]).toEqual([['Saltmarsh/a.mov'], 0]);
      await expect(w.root.missing(['Saltmarsh/a.mov'])).rejects.toThrow('another drive is mounted there');
      // The next start knows it as well, by what was kept; a volume that nothing is known of takes it as it is.
      const known = kept.at(-1) ?? { mountPoint: null, drive: null };
      const next = await watched({ root: volume.mountPoint, known }, false);
      const anew = await watched({ root: volume.mountPoint }, false);
      later.push(next, anew);
      await next.picture.until('absent', () => next.picture.state === 'absent', 4000);
      await anew.picture.until('what is on it', () => anew.picture.paths().join() === 'stray.mov', 4000);
      expect(next.picture.files.size).toBe(0);
      await anew.end();
      other.unmount();
      volume.mount();
      await w.picture.until('live', () => w.picture.state === 'live', 3000);
      await next.picture.until('live there too', () => next.picture.state === 'live', 3000);
    } finally {
      for (const one of [w, ...later]) await one.end();
      other.remove();
    }
  });

  onVolume('a file system mounted below the root is not entered, and that is said', async (volume, watch) => {
    const root = join(volume.mountPoint, '..');
    volume.mount();
    writeFileSync(join(volume.mountPoint, 'inside.mov'), 'x');
    const w = await watch(root);
    await swept(w);
    await pause(500);
    writeFileSync(join(volume.mountPoint, 'later.mov'), 'x');
    await w.root.sweep();
    expect(w.picture.paths()).toEqual(['image']);
    expect(w.picture.events.find((event) => event.type === 'trouble')).toMatchObject({
      detail: expect.stringContaining('stripe is another file system'),
    });
  });
});

test('a root that does not exist: absent, then live within 3 s when it does, two levels at once', async () => {
  const outer = await watched({}, false);
  const root = join(outer.folder, 'not/yet');
  const w = await watched({ root }, false);
  try {
    await w.picture.until('absent', () => w.picture.state === 'absent', 3000);
    await expect(w.root.space()).rejects.toThrow('the folder does not exist');
    mkdirSync(root, { recursive: true });
    writeFileSync(join(root, 'a.mov'), 'x');
    await w.picture.until('live', () => w.picture.files.has('a.mov'), 3000);
    await pause(500);
    execFileSync('rm', ['-r', root]);
    mkdirSync(root);
    writeFileSync(join(root, 'b.mov'), 'x');
    await w.picture.until('the new folder', () => w.picture.paths().join() === 'b.mov', 4000);
    expect(existsSync(root)).toBe(true);
  } finally {
    await w.end();
    await outer.end();
  }
});

/** Writes one file until it is told: the watch is armed when it is. */
function hears(w: Watched, volume: LoopVolume, round: number): boolean {
  const name = `heard ${round}.mov`;
  if (!w.picture.files.has(name)) writeFileSync(join(volume.mountPoint, name), 'x');
  return w.picture.files.has(name);
}
