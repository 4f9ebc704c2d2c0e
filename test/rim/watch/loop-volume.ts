import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { mounted, WITH_SBIN } from './mounted.ts';

/** A small ext4 volume in a file, mounted through a loop device: a drive that can be plugged in and pulled out. */
export interface LoopVolume {
  mountPoint: string;
  mount(): void;
  unmount(): void;
  remove(): void;
}

/** `at`: it is mounted where another one is mounted, too. */
export function loopVolume(at?: string, mebibytes = 24): LoopVolume {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-volume-'));
  const image = join(place, 'image');
  const mountPoint = at ?? join(place, 'stripe');
  mkdirSync(mountPoint, { recursive: true });
  writeFileSync(image, '');
  truncateSync(image, mebibytes * 1024 * 1024);
  execFileSync('mkfs.ext4', ['-q', '-F', image], { env: WITH_SBIN });
  const { mount, unmount } = mounted(mountPoint, () => execFileSync('mount', ['-o', 'loop', image, mountPoint]));
  return {
    mountPoint,
    mount,
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
