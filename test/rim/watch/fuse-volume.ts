import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { mounted, WITH_SBIN } from './mounted.ts';

/** A folder on which a FUSE file system can be mounted. */
export interface FuseVolume {
  mountPoint: string;
  /** The folder behind it, for a bind. */
  behind: string;
  mount(): void;
  unmount(): void;
  remove(): void;
}

const run = (command: string, ...given: string[]): string =>
  execFileSync(command, given, { env: WITH_SBIN, encoding: 'utf8' });

/** A drive with exFAT on it. The kernel shows it as `fuseblk`, as it does NTFS. */
export function exfatVolume(): FuseVolume {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-exfat-'));
  const image = join(place, 'image');
  writeFileSync(image, '');
  truncateSync(image, 32 * 1024 * 1024);
  run('mkfs.exfat', image);
  const device = run('losetup', '-f', '--show', image).trim();
  const volume = fuseVolume(place, (mountPoint) => run('mount.exfat-fuse', device, mountPoint));
  return {
    ...volume,
    remove: () => {
      volume.unmount();
      run('losetup', '-d', device);
      volume.remove();
    },
  };
}

/** A folder shown again at another place: what is written behind it is as unseen here as what another machine writes. */
export function boundVolume(): FuseVolume {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-bound-'));
  return fuseVolume(place, (mountPoint) => run('bindfs', join(place, 'behind'), mountPoint));
}

function fuseVolume(place: string, mountOn: (mountPoint: string) => unknown): FuseVolume {
  const [mountPoint, behind] = [join(place, 'stripe'), join(place, 'behind')];
  for (const folder of [mountPoint, behind]) mkdirSync(folder);
  const { mount, unmount } = mounted(mountPoint, () => mountOn(mountPoint));
  return {
    mountPoint,
    behind,
    mount,
    unmount,
    remove: () => {
      unmount();
      rmSync(place, { recursive: true, force: true });
    },
  };
}

/** Why such a volume cannot be mounted here; `null` when it can. */
export function whyNot(make: () => FuseVolume): string | null {
  let volume: FuseVolume | null = null;
  try {
    volume = make();
    volume.mount();
    return null;
  } catch (error) {
    return error instanceof Error ? (error.message.split('\n')[0] ?? 'unknown') : String(error);
  } finally {
    volume?.remove();
  }
}
