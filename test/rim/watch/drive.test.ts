import { expect, test } from 'vitest';
import {
  anotherDrive,
  areDifferent,
  type DriveFs,
  type DriveIdentity,
  decodeKnownMount,
  encodeKnownMount,
  identifyDrive,
  knownTogether,
} from '../../../src/rim/watch/drive.ts';

/** Links as udev keeps them (udev(7)), and device-mapper's own name for a volume. */
const LINKS: Record<string, string> = {
  '/dev/disk/by-uuid/1A2B-3C4D': '../../sdb1',
  '/dev/disk/by-uuid/cb782768-95c0-4b24-a391-8555064408dd': '../../dm-0',
  '/dev/mapper/stripe': '../dm-0',
};

function fsWith(links: Record<string, string>, birthtimeNs: bigint): DriveFs {
  return {
    readdirSync: (folder: string) =>
      Object.keys(links).flatMap((path) => (path.startsWith(`${folder}/`) ? [path.slice(folder.length + 1)] : [])),
    readlinkSync: (path: string) => {
      const to = links[path];
      if (to === undefined) throw new Error('EINVAL');
      return to;
    },
    statSync: () => ({ ino: 2n, birthtimeNs }),
  } as unknown as DriveFs;
}

const who = (
  fileSystem: string,
  source: string,
  { remote = false, mountPoint = '/media/stripe', links = LINKS, born = 5n } = {},
) => identifyDrive(fsWith(links, born), { mountPoint, fileSystem, source, remote });

test.each([
  ['a drive', who('xfs', '/dev/sdb1'), { uuid: '1A2B-3C4D', born: '2@5', source: null }],
  [
    'a logical volume',
    who('ext4', '/dev/mapper/stripe', { born: 0n }),
    { uuid: 'cb782768-95c0-4b24-a391-8555064408dd', born: null, source: null },
  ],
  ['without udev', who('ext4', '/dev/sdb1', { links: {} }), { uuid: null, born: '2@5', source: null }],
  ['FAT: inodes do not last', who('vfat', '/dev/sdb1'), { uuid: '1A2B-3C4D', born: null, source: null }],
  ['FAT without udev', who('exfat', '/dev/sdb1', { links: {} }), null],
  ['neither is told', who('ext4', '/dev/sdb1', { links: {}, born: 0n }), null],
  ['ZFS', who('zfs', 'tank/shelf', { links: {} }), { uuid: null, born: '2@5', source: null }],
  ['NFS', who('nfs4', 'server:/export', { remote: true }), { uuid: null, born: null, source: 'server:/export' }],
  ['FUSE with a far end', who('fuse.sshfs', 'me@server:', { remote: true }), null],
  ['memory', who('tmpfs', 'tmpfs'), null],
  ['what the system lies on', who('ext4', '/dev/sdb1', { mountPoint: '/' }), null],
])('%s', (_, found, expected) => expect(found).toEqual(expected));

const drive = (over: Partial<DriveIdentity>): DriveIdentity => ({ uuid: null, born: null, source: null, ...over });

test.each([
  ['nothing known', null, drive({ uuid: 'A' }), false],
  ['nothing told', drive({ uuid: 'A' }), null, false],
  ['one UUID', drive({ uuid: 'A', born: '2@5' }), drive({ uuid: 'A', born: '2@6' }), false],
  ['two UUIDs', drive({ uuid: 'A', born: '2@5' }), drive({ uuid: 'B', born: '2@5' }), true],
  ['a UUID that is not told this time', drive({ uuid: 'A', born: '2@5' }), drive({ born: '2@5' }), false],
  ['the same, another drive', drive({ uuid: 'A', born: '2@5' }), drive({ born: '2@6' }), true],
  ['no sign that both have', drive({ uuid: 'A' }), drive({ born: '2@6' }), false],
  ['another share', drive({ source: 'a:/x' }), drive({ source: 'a:/y' }), true],
])('%s', (_, a, b, different) => {
  expect([areDifferent(a, b), areDifferent(b, a)]).toEqual([different, different]);
});

test('what one look did not tell is known from the other', () => {
  const before = drive({ uuid: 'A', born: '2@5' });
  expect(knownTogether(before, drive({ born: '2@5' }))).toEqual(before);
  expect([knownTogether(before, null), knownTogether(null, before)]).toEqual([before, before]);
});

test('said in words, by the sign that both have', () => {
  const born = (ms: number) => drive({ born: `2@${BigInt(ms) * 1_000_000n}` });
  const [a, b] = [Date.UTC(2026, 10, 25, 14, 45, 25), Date.UTC(2026, 10, 25, 14, 45, 26)];
  expect(anotherDrive(born(a), born(b))).toContain(
    '(expected the one formatted at 2026-11-25T14:45:25.000Z, found the one formatted at 2026-11-25T14:45:26.000Z)',
  );
  expect(anotherDrive(drive({ source: 'a:/x' }), drive({ source: 'a:/y' }))).toContain('(expected a:/x, found a:/y)');
});

test('kept as text; of earlier only the mount point was kept', () => {
  const known = { mountPoint: '/media/stripe', drive: drive({ uuid: 'A' }) };
  expect(decodeKnownMount(encodeKnownMount(known))).toEqual(known);
  expect(decodeKnownMount('/media/stripe')).toEqual({ mountPoint: '/media/stripe', drive: null });
  expect(decodeKnownMount(null)).toEqual({ mountPoint: null, drive: null });
});
