import { execFile, spawn } from 'node:child_process';
import { readFileSync, statfsSync } from 'node:fs';
import type { ReadGrade } from '../../core/backup/copy-port.ts';
import type { NameRules } from '../../core/backup/name-rules.ts';
import { passesCacheBy } from '../base/direct-systems.ts';

/** `statfs` types, from linux/magic.h and the file systems' own sources. */
const BTRFS = 0x9123683e;
const NTFS3 = 0x7366746e;
const SERVERS: ReadonlySet<number> = new Set([
  0x6969, // NFS
  0xff534d42, // CIFS
  0xfe534d42, // SMB2 and later
  0x517b, // SMB, the old one
]);
const RESTRICTED: ReadonlySet<number> = new Set([
  0x4d44, // FAT
  0x2011bab0, // exFAT
  NTFS3,
  0x5346544e, // NTFS, the old driver
  0xff534d42,
  0xfe534d42,
  0x517b,
]);

/**
 * What O_DIRECT means on a file system. `passes`: it reaches the drive. `perhaps`: it does, but some files are read through the page
 * cache all the same, and nothing says so: btrfs does that with what it compresses, ext4 with journalled data. `server`: it reaches
 * the server. `unknown`: a memory that we cannot see may answer.
 */
export type Directness = 'passes' | 'perhaps' | 'server' | 'unknown';

export interface Medium {
  directness: Directness;
  names: NameRules;
}

/** What is known of the file system at a path. @throws what statfs throws */
export function mediumAt(path: string, device: bigint): Medium {
  const { type } = statfsSync(path);
  const names = RESTRICTED.has(type) || isFuseOnDevice(device) ? 'restricted' : 'bytes';
  if (SERVERS.has(type)) return { directness: 'server', names };
  const perhaps = type === BTRFS || type === NTFS3 || journalsData(device);
  return { directness: perhaps ? 'perhaps' : passesCacheBy(type) ? 'passes' : 'unknown', names };
}

/** NTFS and exFAT as programs show them. */
function isFuseOnDevice(device: bigint): boolean {
  return mountLines(device).some((line) => line.includes(' - fuseblk '));
}

function journalsData(device: bigint): boolean {
  return mountLines(device).some((line) => /[ ,]data=journal(?:,|$)/.test(line));
}

/** Of /proc/self/mountinfo, proc_pid_mountinfo(5); btrfs has other device numbers there, and needs none of it. */
function mountLines(device: bigint): string[] {
  // makedev(3): the lower 8 and the upper 24 bits of the minor number, with 12 bits of the major one between.
  const major = (device >> 8n) & 0xfffn;
  const minor = (device & 0xffn) | ((device >> 12n) & 0xffffff00n);
  const wanted = `${major}:${minor}`;
  return readFileSync('/proc/self/mountinfo', 'utf8')
    .split('\n')
    .filter((line) => line.split(' ', 3)[2] === wanted);
}

/** What was seen of a file's pages before it was read. */
export type CacheLook = 'not-needed' | 'empty' | 'not-empty';

/**
 * Puts files out of the page cache where reading them past it is not sure, and looks whether they are out. The paths are plain: no
 * spaces, no line breaks.
 */
export async function emptyCache(directness: Directness, paths: readonly string[]): Promise<CacheLook[]> {
  if (directness === 'passes' || directness === 'unknown') return paths.map(() => 'not-needed');
  const before = await cachedPages(paths);
  for (const [at, path] of paths.entries()) if (before[at] !== 0) await dropCache(path);
  const cached = paths.filter((_, at) => before[at] !== 0);
  const after = new Map((await cachedPages(cached)).map((pages, at) => [cached[at], pages]));
  return paths.map((path, at) => ((before[at] === 0 ? 0 : after.get(path)) === 0 ? 'empty' : 'not-empty'));
}

/** How surely a file was read from its medium. `direct`: past the page cache, as far as calls tell; `after`: its pages now. */
export function gradeOf(directness: Directness, look: CacheLook, direct: boolean, after: number | null): ReadGrade {
  switch (directness) {
    case 'passes':
      return direct ? 'device' : 'reported';
    case 'perhaps':
      if (look !== 'empty') return 'reported';
      return direct && after === 0 ? 'device' : 'cache-dropped';
    case 'server':
      return direct || look === 'empty' ? 'server' : 'reported';
    case 'unknown':
      return 'reported';
  }
}

const AT_ONCE = 500;

/** How many pages of each file are in the page cache, by fincore(1); `null`: not known. */
export async function cachedPages(paths: readonly string[]): Promise<(number | null)[]> {
  const pages = new Map<string, number>();
  for (let from = 0; from < paths.length; from += AT_ONCE) {
    const text = await output('fincore', ['-n', '-r', '-b', '-o', 'PAGES,FILE', ...paths.slice(from, from + AT_ONCE)]);
    for (const line of text.split('\n')) {
      const [count, path] = line.split(' ');
      if (path !== undefined) pages.set(path, Number(count));
    }
  }
  return paths.map((path) => pages.get(path) ?? null);
}

/** Of a file that it cannot look at it says nothing, and goes on. */
function output(command: string, args: string[]): Promise<string> {
  return new Promise((resolve) => {
    execFile(command, args, { maxBuffer: 16_777_216, timeout: 60_000 }, (_error, stdout) => resolve(stdout));
  });
}

/** Asks the kernel to let go of a file's pages: dd(1) does so with `nocache` (posix_fadvise), which Node cannot call. */
function dropCache(path: string): Promise<void> {
  return new Promise((resolve) => {
    const dd = spawn('dd', [`if=${path}`, 'iflag=nocache', 'count=0', 'status=none'], { stdio: 'ignore' });
    dd.once('error', () => resolve()).once('exit', () => resolve());
  });
}
