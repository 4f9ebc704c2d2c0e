/** The part of `node:fs` that reading counters takes. */
export interface StatsFs {
  readFileSync(path: string, encoding: 'utf8'): string;
}

/** What a block device did since it appeared. Counters of 32 bits may start over on old kernels. */
export interface DiskCounters {
  readBytes: number;
  writtenBytes: number;
  /** Time in which at least one request was under way, ms. */
  busyMs: number;
  /** Time that all requests together were under way, ms. */
  queuedMs: number;
}

/** Sectors of /proc/diskstats are of 512 bytes, whatever the device's own are (Documentation/block/stat.rst). */
const SECTOR = 512;

/**
 * Counters of every block device by `major:minor` and by name, from /proc/diskstats (Documentation/admin-guide/iostats.rst: fields 3
 * and 7 are sectors, 10 and 11 milliseconds). Empty where it cannot be read.
 */
export function readDiskStats(fs: StatsFs): Map<string, DiskCounters> {
  const all = new Map<string, DiskCounters>();
  for (const line of readText(fs, '/proc/diskstats').split('\n')) {
    const [major, minor, name, ...fields] = line.trim().split(/\s+/);
    const counters = countersOf(fields.map(Number));
    if (name === undefined || counters === null) continue;
    all.set(`${major}:${minor}`, counters);
    all.set(name, counters);
  }
  return all;
}

function countersOf(fields: readonly number[]): DiskCounters | null {
  const [, , read, , , , written, , , busyMs, queuedMs] = fields;
  if (read === undefined || written === undefined || busyMs === undefined || queuedMs === undefined) return null;
  return { readBytes: read * SECTOR, writtenBytes: written * SECTOR, busyMs, queuedMs };
}

/**
 * Bytes that a process made the drives read and write (proc_pid_io(5): `read_bytes`, `write_bytes`); `null`: it is gone, or another
 * user's.
 */
export function readProcessBytes(fs: StatsFs, pid: number): { readBytes: number; writtenBytes: number } | null {
  const text = readText(fs, `/proc/${pid}/io`);
  const field = (name: string) => Number(new RegExp(`^${name}: (\\d+)$`, 'm').exec(text)?.[1] ?? Number.NaN);
  const [readBytes, writtenBytes] = [field('read_bytes'), field('write_bytes')];
  return Number.isNaN(readBytes) || Number.isNaN(writtenBytes) ? null : { readBytes, writtenBytes };
}

/**
 * Bytes read from and written to an NFS server for one mount (/proc/self/mountstats, `bytes:`: fields 5 and 6, what went over the wire;
 * Linux fs/nfs/super.c, iostats version 1.1); `null`: the kernel tells nothing of it.
 */
export function readNfsBytes(fs: StatsFs, mountPoint: string): { readBytes: number; writtenBytes: number } | null {
  const sections = readText(fs, '/proc/self/mountstats').split(/^(?=device )/m);
  const section = sections.find((one) => one.includes(` mounted on ${mountPoint} with fstype nfs`));
  const [, , , , read, written] =
    /^\s*bytes:\s+(.+)$/m
      .exec(section ?? '')?.[1]
      ?.split(/\s+/)
      .map(Number) ?? [];
  return read === undefined || written === undefined ? null : { readBytes: read, writtenBytes: written };
}

/**
 * Bytes read from and written to an SMB share (/proc/fs/cifs/Stats; Linux fs/smb/client/cifs_debug.c: `1) \\\\host\\share`, then
 * `Bytes read: N  Bytes written: N`; from memory); `null`: the kernel tells nothing of it.
 */
export function readSmbBytes(fs: StatsFs, source: string): { readBytes: number; writtenBytes: number } | null {
  const share = source.replaceAll('/', '\\').toLowerCase();
  const sections = readText(fs, '/proc/fs/cifs/Stats').split(/^(?=\d+\) )/m);
  const section = sections.find((one) => /^\d+\) (\S+)/.exec(one)?.[1]?.toLowerCase() === share);
  const [, read, written] = /Bytes read: (\d+)\s+Bytes written: (\d+)/.exec(section ?? '') ?? [];
  return read === undefined || written === undefined
    ? null
    : { readBytes: Number(read), writtenBytes: Number(written) };
}

function readText(fs: StatsFs, path: string): string {
  try {
    return fs.readFileSync(path, 'utf8');
  } catch {
    return '';
  }
}
