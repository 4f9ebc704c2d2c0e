import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { mounted, WITH_SBIN } from '../watch/mounted.ts';

/** A shelf of its own in a file, mounted through a loop device. */
export interface ShelfVolume {
  mountPoint: string;
  /** The block device. */
  device: string;
  mount(...options: string[]): void;
  unmount(): void;
  remove(): void;
}

export type ShelfSystem = 'ext4' | 'xfs' | 'btrfs';

const MAKE: Readonly<Record<ShelfSystem, readonly string[]>> = {
  ext4: ['mkfs.ext4', '-q', '-F'],
  xfs: ['mkfs.xfs', '-q', '-f'],
  btrfs: ['mkfs.btrfs', '-q', '-f'],
};

/** Smallest that mkfs makes, in MiB. */
const SMALLEST: Readonly<Record<ShelfSystem, number>> = { ext4: 24, xfs: 320, btrfs: 300 };

const run = (command: string, ...args: string[]): string =>
  execFileSync(command, args, { env: WITH_SBIN, encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] }).trim();

/** Made, and not yet mounted. */
export function shelfVolume(system: ShelfSystem, mebibytes = SMALLEST[system]): ShelfVolume {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-shelf-'));
  const [image, mountPoint] = [join(place, 'image'), join(place, 'shelf-a')];
  mkdirSync(mountPoint);
  writeFileSync(image, '');
  truncateSync(image, mebibytes * 1_048_576);
  const [mkfs = '', ...options] = MAKE[system];
  run(mkfs, ...options, image);
  const device = run('losetup', '-f', '--show', image);
  let given: string[] = [];
  const { mount, unmount } = mounted(mountPoint, () => run('mount', ...given, device, mountPoint));
  return {
    ...{ mountPoint, device, unmount },
    mount(...options) {
      given = options;
      mount();
    },
    remove() {
      spawnSync('umount', ['-l', mountPoint], { env: WITH_SBIN });
      spawnSync('losetup', ['-d', device], { env: WITH_SBIN });
      rmSync(place, { recursive: true, force: true });
    },
  };
}

/** Why no such shelf can be made here; `null` when one can. */
export function whyNoShelf(system: ShelfSystem): string | null {
  let volume: ShelfVolume | null = null;
  try {
    volume = shelfVolume(system);
    volume.mount();
    return null;
  } catch (error) {
    return error instanceof Error ? (error.message.split('\n')[0] ?? 'unknown') : String(error);
  } finally {
    volume?.remove();
  }
}
