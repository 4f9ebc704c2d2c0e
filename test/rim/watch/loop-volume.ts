import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A small ext4 volume in a file, mounted through a loop device: a drive that can be plugged in and pulled out. */
export interface LoopVolume {
  mountPoint: string;
  mount(): void;
  unmount(): void;
  remove(): void;
}

export function loopVolume(): LoopVolume {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-volume-'));
  const image = join(place, 'image');
  const mountPoint = join(place, 'stripe');
  mkdirSync(mountPoint);
  execFileSync('truncate', ['-s', '24M', image]);
  execFileSync('mkfs.ext4', ['-q', '-F', image]);
  let mounted = false;
  const unmount = (): void => {
    if (mounted) execFileSync('umount', [mountPoint]);
    mounted = false;
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
