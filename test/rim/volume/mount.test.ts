import { execFileSync } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { memfs } from 'memfs';
import { describe, expect, test } from 'vitest';
import { findMount, isRemote, type MountFs, mountFinder, mountOf, readMounts } from '../../../src/rim/volume/mount.ts';

/** The first line is the example of proc_pid_mountinfo(5). */
const TABLE = `36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue
27 1 254:0 / / rw,relatime - ext4 /dev/vda rw,discard
41 27 8:17 / /media/card\\040reader\\011a\\134b ro,nosuid shared:5 master:1 propagate_from:2 - exfat /dev/sdb1 rw
42 27 9:0 / /media/stripe rw - xfs /dev/md0 rw
43 27 0:50 / /media/shelf-a rw - nfs4 tide:/export/shelf rw,vers=4.2
44 42 0:51 / /media/stripe/remote rw - fuse.sshfs me@tide:/ rw
45 27 7:3 / /media/stripe rw - ext4 /dev/loop3 rw
not a mount line
`;

function tableFs(): MountFs {
  const { fs } = memfs({ '/proc/self/mountinfo': TABLE });
  return fs as unknown as MountFs;
}

describe('the mount table', () => {
  const mounts = readMounts(tableFs());

  test('fields before the dash vary; other lines are left out', () => {
    expect(mounts).toHaveLength(7);
    expect(mounts[0]).toEqual({
      id: 36,
      mountPoint: '/mnt2',
      device: '98:0',
      fileSystem: 'ext3',
      source: '/dev/root',
      options: ['rw', 'noatime', 'errors=continue'],
      remote: false,
      readOnly: false,
    });
  });

  test('octal escapes and a read-only mount of a writable file system', () => {
    expect(mounts[2]).toMatchObject({ mountPoint: '/media/card reader\ta\\b', readOnly: true, device: '8:17' });
  });

  test.each([
    ['/media/stripe', 45, 'the one mounted last at a place'],
    ['/media/stripe/Saltmarsh/a.mov', 45, 'below it'],
    ['/media/stripe/remote/x', 44, 'the longest mount point'],
    ['/media/stripe-b/x', 27, 'a name that only begins the same'],
    ['/', 27, 'the root'],
  ])('%s lies on %i: %s', (path, id) => {
    expect(findMount(mounts, path)?.id).toBe(id);
  });

  test('who may write unseen', () => {
    expect(mounts.filter((mount) => mount.remote).map((mount) => mount.id)).toEqual([43, 44]);
    for (const local of ['ext4', 'xfs', 'btrfs', 'exfat', 'fuseblk', 'tmpfs', 'overlay']) {
      expect([local, isRemote(local)]).toEqual([local, false]);
    }
    for (const remote of ['nfs', 'cifs', 'smb3', '9p', 'fuse.sshfs', 'fuse.mergerfs', 'virtiofs']) {
      expect([remote, isRemote(remote)]).toEqual([remote, true]);
    }
  });

  test('a table that cannot be read gives null', () => {
    expect(mountOf(memfs().fs as unknown as MountFs, '/')).toBeNull();
  });

  test('this machine: the same answers as findmnt (util-linux)', () => {
    for (const path of ['/', '/proc', '/tmp']) {
      const [target, kind] = execFileSync('findmnt', ['-n', '-o', 'TARGET,FSTYPE', '-T', path], { encoding: 'utf8' })
        .trim()
        .split(/\s+/);
      expect(mountOf(nodeFs, nodeFs.realpathSync(path))).toMatchObject({ mountPoint: target, fileSystem: kind });
    }
  });
});

test('asked again and again, the table is read anew each time, and an answer is kept for as long as it reads the same', () => {
  let table = TABLE;
  const find = mountFinder({ readFileSync: () => table });
  const first = find('/media/stripe');
  expect(first?.id).toBe(45);
  expect(find('/media/stripe')).toBe(first);
  expect(find('/media/shelf-a/x')?.id).toBe(43);
  table = TABLE.split('\n')
    .filter((line) => !line.startsWith('45 '))
    .join('\n');
  expect(find('/media/stripe')?.id).toBe(42);
});

test('what is read-only for a service alone, to whom all is shown so, is told apart from what is so for all', () => {
  // As a service with ProtectSystem=strict had it on a real machine (systemd 252); the last one was mounted with -o ro.
  const table = `149 148 254:0 / / ro,nosuid,relatime - ext4 /dev/vda rw
160 149 8:1 / /media/stripe ro,relatime - xfs /dev/sda1 rw,attr2
161 149 8:2 / /media/shelf-a rw,relatime - xfs /dev/sdb1 rw,attr2
162 149 8:3 / /media/card ro,relatime - exfat /dev/sdc1 ro,fmask=0022
`;
  const seen = (text: string) =>
    readMounts({ readFileSync: () => text }).map(({ readOnly, viewOnly }) => [readOnly, viewOnly ?? false]);
  expect(seen(table)).toEqual([
    [true, true],
    [true, true],
    [false, false],
    [true, false],
  ]);
  // A bind mount that somebody made read-only, while the root is not.
  expect(seen(table.replace('/ / ro', '/ / rw'))[1]).toEqual([true, false]);
});
