import { execFileSync, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, truncateSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';

/** A camera card in a file, put into a reader that is a loop device. */
export interface CardImage {
  /** Below `under`, as a desktop would have it. */
  mountPoint: string;
  /** The folder below which it is mounted. */
  under: string;
  /** Puts it in; read-only as the lock on a card makes it, unless told otherwise. */
  mount(options?: string): void;
  /** Takes it out; at once, even while something on it is open, when `pulled`. */
  unmount(pulled?: boolean): void;
  /** Has something done with it, writable, at a place that is no reader's. */
  inCamera(body: (folder: string) => void): void;
  /** Writes files onto it, each of so many bytes, in its camera. */
  record(files: Readonly<Record<string, number>>): void;
  /** Removes everything on it; a format does. */
  format(): void;
  /** All its bytes, for who wants to know whether any has changed. */
  digest(): string;
  remove(): void;
}

export type CardFileSystem = 'ext4' | 'exfat';

/** Not on every PATH, where they are installed all the same. */
const env = { ...process.env, PATH: `${process.env['PATH']}:/usr/sbin:/sbin` };
const run = (command: string, ...args: string[]) => execFileSync(command, args, { env, encoding: 'utf8' }).trim();

/** When the first take was recorded; each file a minute after the one before. */
const FIRST_TAKE = Date.UTC(2027, 1, 11, 9) / 1000;

/** A fresh card of 48 MB. exFAT is what cards of more than 32 GB come with (SD Association, "SDXC"). */
export function cardImage(fileSystem: CardFileSystem, label: string): CardImage {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-card-'));
  const image = join(place, 'image');
  const under = join(place, 'media');
  const mountPoint = join(under, label);
  const camera = join(place, 'camera');
  for (const folder of [mountPoint, camera]) mkdirSync(folder, { recursive: true });
  writeFileSync(image, '');
  truncateSync(image, 48 * 1024 * 1024);
  const device = run('losetup', '-f', '--show', image);
  let mountedAt: string | null = null;
  let minutes = 0;

  function format(): void {
    if (fileSystem === 'ext4') run('mkfs.ext4', '-q', '-F', '-L', label, device);
    else run('mkfs.exfat', '-L', label, device);
  }

  function mount(options: string, at: string): void {
    if (fileSystem === 'ext4') run('mount', '-o', options, device, at);
    else run('mount.exfat-fuse', '-o', options, device, at);
    mountedAt = at;
  }

  function unmount(pulled = false): void {
    // Busy for as long as somebody happens to read a folder.
    for (let attempt = 1; mountedAt !== null && attempt <= 50; attempt += 1) {
      const done = spawnSync('umount', [...(pulled ? ['-l'] : []), mountedAt], { env }).status === 0;
      if (done) mountedAt = null;
      else execFileSync('sleep', ['0.05']);
    }
    if (mountedAt !== null) throw new Error(`${mountedAt} cannot be unmounted: it stays busy`);
    // The driver in user space ends by itself when it has written everything back.
    if (fileSystem === 'exfat')
      for (let wait = 0; wait < 50 && isHeld(device); wait += 1) execFileSync('sleep', ['0.05']);
  }

  function inCamera(body: (folder: string) => void): void {
    mount('rw', camera);
    body(camera);
    unmount();
  }

  try {
    format();
  } catch (error) {
    run('losetup', '-d', device);
    throw error;
  }
  return {
    mountPoint,
    under,
    mount: (options = 'ro') => mount(options, mountPoint),
    unmount,
    inCamera,
    record(files) {
      inCamera((folder) => {
        for (const [path, size] of Object.entries(files)) {
          const file = join(folder, path);
          mkdirSync(dirname(file), { recursive: true });
          writeFileSync(file, Buffer.alloc(size, path));
          minutes += 1;
          utimesSync(file, FIRST_TAKE + minutes * 60, FIRST_TAKE + minutes * 60);
        }
      });
    },
    format,
    digest: () => createHash('sha256').update(readFileSync(image)).digest('hex'),
    remove() {
      unmount();
      spawnSync('losetup', ['-d', device], { env });
      rmSync(place, { recursive: true, force: true });
    },
  };
}

function isHeld(device: string): boolean {
  return spawnSync('sh', ['-c', `ls -l /proc/[0-9]*/fd 2>/dev/null | grep -q ' ${device}$'`]).status === 0;
}

/** Why no card of this kind can be put in here; `null` when one can. */
export function whyNoCards(fileSystem: CardFileSystem): string | null {
  let card: CardImage | null = null;
  try {
    card = cardImage(fileSystem, 'TRY');
    card.mount();
    return null;
  } catch (error) {
    return error instanceof Error ? (error.message.split('\n')[0] ?? 'unknown') : String(error);
  } finally {
    card?.remove();
  }
}
