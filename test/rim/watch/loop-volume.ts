import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A small ext4 volume in a file, mounted through a loop device: a drive that can be plugged in and pulled out. */
export interface LoopVolume {
  mountPoint: string;
  mount(): void;
  unmount(): void;
  remove(): void;
}

/** `at`: it is mounted where another one is mounted, too. */
export function loopVolume(at?: string): LoopVolume {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-volume-'));
  const image = join(place, 'image');
  const mountPoint = at ?? join(place, 'stripe');
  mkdirSync(mountPoint, { recursive: true });
  writeFileSync(image, '');
  truncateSync(image, 24 * 1024 * 1024);
  // Not on every PATH, where it is installed all the same.
  const env = { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin:/sbin` };
  execFileSync('mkfs.ext4', ['-q', '-F', image], { env });
  let mounted = false;
  const unmount = (): void => {
    // Busy for as long as the watching process happens to read a folder.
    for (let attempt = 1; mounted && attempt <= 50; attempt += 1) {
      mounted = spawnSync('umount', [mountPoint]).status !== 0;
      if (mounted) execFileSync('sleep', ['0.02']);
    }
    if (mounted) throw new Error(`${mountPoint} cannot be unmounted: it stays busy`);
  };
  return {
    mountPoint,
    mount: () => {
      execFileSync('mount', ['-o', 'loop', image, mountPoint]);
      mounted = true;
    },
    unmount,
    remove: () => {
      unmount();
      rmSync(place, { recursive: true, force: true });
    },
  };
}

/** Why no volume can be mounted here; `null` when one can. */
export function whyNoMounts(): string | null {
  let volume: LoopVolume | null = null;
  try {
    volume = loopVolume();
    volume.mount();
    return null;
  } catch (error) {
    return error instanceof Error ? (error.message.split('\n')[0] ?? 'unknown') : String(error);
  } finally {
    volume?.remove();
  }
}
