import { execFileSync, spawn } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { readFileSync } from 'node:fs';
import { memfs } from 'memfs';
import { expect, test } from 'vitest';
import { readDiskStats, readProcessBytes, type StatsFs } from '../../../src/rim/volume/disk-stats.ts';
import { volumeCounters } from '../../../src/rim/volume/volume-counters.ts';

// A line as Documentation/admin-guide/iostats.rst has the fields: 14 of them, later kernels add more behind.
const TABLE = `   8       0 sda 1200 30 819200 900 500 20 204800 700 2 4000 1600
   8      16 sdb 1200 30 819200 900 500 20 204800 700 2 3000 1600 0 0 0 0 3 9
 259       0 nvme0n1 1 2
   9       0 md0 2000 0 1638400 0 900 0 204800 0 0 4100 3000
`;
const asFs = (files: Record<string, string>) => memfs(files).fs as unknown as StatsFs;
const PROC = asFs({ '/proc/diskstats': TABLE, '/proc/7/io': 'rchar: 1\nread_bytes: 4096\nwrite_bytes: 512\n' });

test('counters of every device, by number and by name; a line that is too short is none', () => {
  const stats = readDiskStats(PROC);
  expect(stats.get('sda')).toEqual({
    readBytes: 819_200 * 512,
    writtenBytes: 204_800 * 512,
    busyMs: 4000,
    queuedMs: 1600,
  });
  expect(stats.get('8:16')).toEqual(stats.get('sdb'));
  expect(stats.has('nvme0n1')).toBe(false);
  expect(readDiskStats(asFs({})).size).toBe(0);
});

test('a volume is its own device where it has one, else its members together', () => {
  const of = (top: string | null, drives: string[], copies = 1, pids = [7, 8]) =>
    volumeCounters(PROC, readDiskStats(PROC), { top, drives, copies, pids }, 5);
  expect(of('9:0', ['sda', 'sdb'])).toEqual({
    atMs: 5,
    readBytes: 1_638_400 * 512,
    writtenBytes: 204_800 * 512,
    drives: [expect.objectContaining({ busyMs: 4000 }), expect.objectContaining({ busyMs: 3000 })],
    own: { readBytes: 4096, writtenBytes: 512 },
  });
  // Mirrored: what was written once went to both.
  expect(of(null, ['sda', 'sdb'], 2)).toMatchObject({ readBytes: 1_638_400 * 512, writtenBytes: 204_800 * 512 });
  expect(of('9:0', [])?.drives).toEqual([expect.objectContaining({ busyMs: 4100 })]);
  expect(of(null, ['sdz'])).toBeNull();
  expect(of('0:44', [])).toBeNull();
});

test('an NFS mount counts what went over the wire; of no drives nothing is told', () => {
  // As nfsiostat(8) reads it: `bytes:` has eight fields, the fifth and sixth are what the server sent and got.
  const stats = `device proc mounted on /proc with fstype proc
device nas:/media mounted on /media/stripe with fstype nfs4 statvers=1.1
\topts:\trw,vers=4.2
\tevents:\t1 2 3
\tbytes:\t100 200 0 0 4096 8192 1 2
device nas:/other mounted on /media/other with fstype nfs4 statvers=1.1
\tbytes:\t1 1 1 1 1 1 1 1
`;
  const fs = asFs({ '/proc/self/mountstats': stats });
  const at = (nfs: string) =>
    volumeCounters(
      fs,
      new Map(),
      { top: '0:55', drives: [], copies: 1, pids: [], network: { kind: 'nfs', mountPoint: nfs } },
      5,
    );
  expect(at('/media/stripe')).toMatchObject({ readBytes: 4096, writtenBytes: 8192, drives: [] });
  expect(at('/media/else')).toBeNull();
});

test('so does an SMB share, whatever the case of its name', () => {
  // Linux fs/smb/client/cifs_debug.c (from memory).
  const stats = `Resources in use
CIFS Session: 1
1) \\\\NAS\\Media
SMBs: 31
Bytes read: 4096  Bytes written: 512
2) \\\\NAS\\Other
Bytes read: 1  Bytes written: 1
`;
  const fs = asFs({ '/proc/fs/cifs/Stats': stats });
  const of = (source: string) =>
    volumeCounters(fs, new Map(), { top: null, drives: [], copies: 1, pids: [], network: { kind: 'smb', source } }, 5);
  expect(of('//nas/media')).toMatchObject({ readBytes: 4096, writtenBytes: 512 });
  expect(of('//nas/none')).toBeNull();
});

test('a process that is gone did nothing', () => {
  expect(readProcessBytes(PROC, 7)).toEqual({ readBytes: 4096, writtenBytes: 512 });
  expect(readProcessBytes(PROC, 8)).toBeNull();
});

test('this machine: what a process writes through to a drive is counted at the drive and at the process', async () => {
  const source = execFileSync('findmnt', ['-no', 'MAJ:MIN', '-T', '/tmp'], { encoding: 'utf8' }).trim();
  const before = readDiskStats(nodeFs).get(source);
  if (before === undefined) {
    // An overlay or a tmpfs has no drive of its own.
    expect(readFileSync('/proc/diskstats', 'utf8')).not.toContain(` ${source.replace(':', ' ')} `);
    return;
  }
  const writer = spawn('sh', [
    '-c',
    'dd if=/dev/zero of=/tmp/headroomd-counted bs=1M count=32 conv=fdatasync 2>/dev/null; rm /tmp/headroomd-counted; cat /proc/$$/io',
  ]);
  let told = '';
  for await (const part of writer.stdout) told += part;
  expect(told).toMatch(/^write_bytes: \d+$/m);
  const after = readDiskStats(nodeFs).get(source);
  expect((after?.writtenBytes ?? 0) - before.writtenBytes).toBeGreaterThanOrEqual(32 * 1_048_576);
  expect((after?.busyMs ?? 0) - before.busyMs).toBeGreaterThan(0);
});
