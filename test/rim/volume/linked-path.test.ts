import type * as nodeFs from 'node:fs';
import { memfs } from 'memfs';
import { expect, test } from 'vitest';
import { resolveLinks } from '../../../src/rim/volume/linked-path.ts';
import { parseMounts } from '../../../src/rim/volume/mount.ts';

const MOUNTS = parseMounts(`27 1 254:0 / / rw - ext4 /dev/vda rw
42 27 9:0 / /media/stripe rw - xfs /dev/md0 rw
43 27 0:50 / /media/far rw - nfs4 tide:/export rw
44 27 8:17 / /media/card rw - fuseblk /dev/sdb1 rw
`);

function linkedFs() {
  const { fs } = memfs({ '/media/stripe/Saltmarsh': null, '/media/far/inner': null, '/srv': null, '/plain': null });
  fs.symlinkSync('/media/stripe', '/srv/edit');
  fs.symlinkSync('../srv/edit/Saltmarsh', '/plain/show');
  fs.symlinkSync('/media/far', '/srv/far');
  fs.symlinkSync('/media/stripe', '/media/far/inner/link');
  fs.symlinkSync('loop', '/srv/loop');
  const asked: string[] = [];
  const readlinkSync = (path: string) => {
    asked.push(path);
    return (fs as unknown as typeof nodeFs).readlinkSync(path);
  };
  return { asked, fs: { readlinkSync } };
}

test.each([
  ['/media/stripe/Saltmarsh', '/media/stripe/Saltmarsh', 'no link'],
  ['/srv/edit', '/media/stripe', 'a link'],
  ['/srv/edit/not/there', '/media/stripe/not/there', 'a link above what is not there'],
  ['/plain/show/Day 3', '/media/stripe/Saltmarsh/Day 3', 'a relative link by way of another'],
  ['/srv/far/inner/link/x', '/media/far/inner/link/x', 'below a remote mount nothing is followed'],
  ['/srv/loop/x', '/srv/loop/x', 'a loop stays what it is'],
  ['/', '/', 'the root'],
])('%s is %s: %s', (path, resolved) => {
  expect(resolveLinks(path, MOUNTS, linkedFs().fs)).toBe(resolved);
});

test('mount points, and what lies on a mount that a server or a process answers for, are never touched', () => {
  const { asked, fs } = linkedFs();
  resolveLinks('/media/card/Saltmarsh/Day 3', MOUNTS, fs);
  expect(asked.splice(0)).toEqual(['/media']);
  resolveLinks('/srv/far/inner/link/x', MOUNTS, fs);
  resolveLinks('/media/stripe/Saltmarsh', MOUNTS, fs);
  expect(asked).toEqual(['/srv', '/srv/far', '/media', '/media', '/media/stripe/Saltmarsh']);
});
