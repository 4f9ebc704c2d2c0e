import { type ChildProcess, execFileSync, spawn, spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, truncateSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

/** Commands of the system that are not on every PATH, where they are installed all the same. */
const env = { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin:/sbin` };

/** Runs a command of the system; what it says when it fails is in the error. */
export function run(command: string, ...args: string[]): string {
  return execFileSync(command, args, { env, encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
}

/** A file system of its own that can be plugged in and pulled out. */
export interface Drive {
  mountPoint: string;
  mount(): void;
  unmount(): void;
  remove(): void;
}

/** A small ext4 drive. Inodes of 128 bytes have no room for anything finer than whole seconds. */
export function ext4Drive(place: string, { inodeSize = 256, megabytes = 32, at = join(place, 'mounted') } = {}): Drive {
  const image = imageAt(place, megabytes);
  run('mkfs.ext4', '-q', '-F', '-I', String(inodeSize), image);
  return drive(at, (mountPoint) => run('mount', '-o', 'loop', image, mountPoint));
}

/** A small exFAT drive, through FUSE, on a block device as a card reader gives it. */
export function exfatDrive(place: string): Drive {
  const image = imageAt(place, 32);
  run('mkfs.exfat', image);
  const loop = run('losetup', '-f', '--show', image).trim();
  const made = drive(join(place, 'mounted'), (mountPoint) => run('mount.exfat-fuse', loop, mountPoint));
  const remove = () => {
    made.remove();
    run('losetup', '-d', loop);
  };
  return { ...made, remove };
}

function imageAt(place: string, megabytes: number): string {
  mkdirSync(place, { recursive: true });
  const image = join(place, 'image');
  writeFileSync(image, '');
  truncateSync(image, megabytes * 1024 * 1024);
  return image;
}

function drive(mountPoint: string, mountAt: (mountPoint: string) => void): Drive {
  mkdirSync(mountPoint, { recursive: true });
  let mounted = false;
  const unmount = (): void => {
    if (mounted) unmountAt(mountPoint);
    mounted = false;
  };
  return {
    mountPoint,
    unmount,
    mount() {
      mountAt(mountPoint);
      mounted = true;
    },
    remove: unmount,
  };
}

/** Busy for as long as somebody happens to read a folder there. */
export function unmountAt(mountPoint: string): void {
  for (let attempt = 1; attempt <= 100; attempt += 1) {
    if (spawnSync('umount', [mountPoint], { env }).status === 0) return;
    execFileSync('sleep', ['0.02']);
  }
  throw new Error(`${mountPoint} cannot be unmounted: it stays busy`);
}

/** A file system of its own whose content is somebody else's folder, as a network mount's is. */
export interface PassThrough {
  /** Its server: stopped, every call on the mount hangs. */
  server: ChildProcess;
  remove(): Promise<void>;
}

export async function passThrough(from: string, mountPoint: string): Promise<PassThrough> {
  const server = spawn('bindfs', ['-f', from, mountPoint], { env, stdio: 'ignore' });
  const ended = new Promise<void>((resolve) => {
    server.once('exit', () => resolve());
    server.once('error', () => resolve());
  });
  const made: PassThrough = {
    server,
    async remove() {
      server.kill('SIGCONT');
      spawnSync('umount', ['-l', mountPoint], { env });
      server.kill();
      await ended;
    },
  };
  for (let attempt = 0; attempt < 100; attempt += 1) {
    if (isMountPoint(mountPoint)) return made;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  await made.remove();
  throw new Error(`bindfs has not mounted ${mountPoint} within 5 s`);
}

function isMountPoint(path: string): boolean {
  const table = readFileSync('/proc/self/mountinfo', 'utf8');
  return table.split('\n').some((line) => line.split(' ')[4] === path);
}
