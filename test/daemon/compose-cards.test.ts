import { expect, test } from 'vitest';
import { mountPointsOf } from '../../src/daemon/compose-cards.ts';
import { parseMounts } from '../../src/rim/volume/mount.ts';

const MOUNTS = parseMounts(`27 1 254:0 / / rw - ext4 /dev/vda rw
42 27 9:0 / /media/stripe rw - xfs /dev/md0 rw
43 27 8:1 / /media/shelf-a rw - exfat /dev/sda1 rw
44 27 8:17 / /media/SALT_A rw - exfat /dev/sdb1 rw
`);

test('volumes and shelves are no cards, also when they are named through a link', () => {
  const readlinkSync = (path: string) => {
    if (path === '/srv/edit') return '/media/stripe';
    throw new Error('EINVAL');
  };
  const places = { volumes: [{ path: '/srv/edit/Saltmarsh' }], shelves: [{ path: '/media/shelf-a/copies' }] };
  expect(mountPointsOf(places, MOUNTS, { readlinkSync })).toEqual(new Set(['/media/stripe', '/media/shelf-a']));
});
