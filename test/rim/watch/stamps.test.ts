import { expect, test } from 'vitest';
import type { FileStat } from '../../../src/core/model.ts';
import { stampsOf, trustworthy } from '../../../src/rim/watch/stamps.ts';

const seen: FileStat = { path: 'a', size: 5, allocated: 512, mtimeNs: 7n, ctimeNs: 9n, dev: 1n, ino: 12n, nlink: 2 };

test.each([
  ['ext4', seen],
  ['xfs', seen],
  ['nfs4', seen],
  [undefined, seen],
  // exFAT and FAT32 keep neither inode nor time of change (Microsoft's exFAT specification 1.00, section 7.4: create, last
  // modified and last accessed only); the kernel numbers files as it meets them.
  ['vfat', { ...seen, ino: 0n, nlink: 1, ctimeNs: 7n }],
  ['msdos', { ...seen, ino: 0n, nlink: 1, ctimeNs: 7n }],
  ['exfat', { ...seen, ino: 0n, nlink: 1, ctimeNs: 7n }],
  ['fuseblk', { ...seen, ino: 0n, nlink: 1 }],
  ['fuse', { ...seen, ino: 0n, nlink: 1 }],
  ['fuse.sshfs', { ...seen, ino: 0n, nlink: 1 }],
  // Only a beginning that ends in a dot is FUSE's.
  ['fusectl', seen],
])('%s', (fileSystem, reported) => {
  expect(trustworthy(seen, stampsOf(fileSystem))).toEqual(reported);
});
