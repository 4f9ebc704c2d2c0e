import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { WITH_SBIN } from '../watch/mounted.ts';

/** Real btrfs over real loop devices. */
export interface Btrfs {
  mountPoint: string;
  loops: string[];
  unmount(): void;
  remove(): void;
}

export const run = (command: string, ...args: string[]) =>
  execFileSync(command, args, { env: WITH_SBIN, encoding: 'utf8' }).trim();

export function makeBtrfs(profile: string, members: number): Btrfs {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-btrfs-'));
  const mountPoint = join(place, 'stripe');
  mkdirSync(mountPoint);
  const loops: string[] = [];
  const unmount = () => void spawnSync('umount', [mountPoint]);
  const remove = () => {
    unmount();
    for (const loop of loops) spawnSync('losetup', ['-d', loop], { env: WITH_SBIN });
    rmSync(place, { recursive: true, force: true });
  };
  try {
    for (let member = 0; member < members; member++) {
      const image = join(place, `${member}`);
      writeFileSync(image, '');
      truncateSync(image, 300 * 1_048_576);
      loops.push(run('losetup', '-f', '--show', image));
    }
    run('mkfs.btrfs', '-q', '-f', '-d', profile, '-m', members > 1 ? 'raid1' : 'single', ...loops);
    run('mount', '-t', 'btrfs', loops[0] ?? '', mountPoint);
    return { mountPoint, loops, unmount, remove };
  } catch (error) {
    remove();
    throw error;
  }
}

/** Why no such volume can be made here; `null` when one can. */
export function whyNoBtrfs(): string | null {
  try {
    makeBtrfs('single', 1).remove();
    return null;
  } catch (error) {
    return error instanceof Error ? (error.message.split('\n')[0] ?? 'unknown') : String(error);
  }
}

/** Takes its last device away, and mounts it again without. */
export function loseDevice(volume: Btrfs): void {
  volume.unmount();
  run('losetup', '-d', volume.loops.pop() ?? '');
  run('btrfs', 'device', 'scan', '--forget');
  run('mount', '-t', 'btrfs', '-o', 'degraded', volume.loops[0] ?? '', volume.mountPoint);
}
