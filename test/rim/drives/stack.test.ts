import { describe, expect, test } from 'vitest';
import { detectedLayout } from '../../../src/core/assess/detected-layout.ts';
import { readStack } from '../../../src/rim/drives/stack.ts';
import {
  asSys,
  commands,
  emptyTree,
  mapped,
  mdArray,
  nvmeDrive,
  onDevice,
  sataDrive,
  type Tree,
  usbDrive,
} from './trees.ts';

const none = commands({});

async function layoutOf(tree: Tree, device: string, run = none, fileSystem = 'ext4') {
  const stack = await readStack(asSys(tree), run, onDevice(device, fileSystem));
  return { stack, layout: detectedLayout(stack) };
}

function disks(letters: string): Tree {
  const tree = emptyTree();
  for (const letter of letters) sataDrive(tree, letter);
  return tree;
}

describe('one drive', () => {
  test('behind a partition: model, serial, size, kind, transport and link', async () => {
    const { layout, stack } = await layoutOf(disks('b'), '8:17');
    expect(layout).toMatchObject({
      level: 'single',
      members: 1,
      drive: 'hdd',
      link: { name: 'sata', bps: 560e6 },
      by: 'drive',
    });
    expect(layout?.drives).toEqual([
      {
        ...{ name: 'sdb', model: 'DISK 4TB R', serial: 'S0002', bytes: 7_814_037_168 * 512, rotational: true },
        ...{ transport: 'sata', link: { name: 'sata', bps: 560e6 } },
      },
    ]);
    expect(stack.errors).toEqual([{ name: 'sdb', by: 'kernel', errors: 3 }]);
  });

  test('a slower SATA link, and none that is told', async () => {
    const slow = emptyTree();
    sataDrive(slow, 'a', { 'queue/rotational': '0' }, '3.0 Gbps');
    expect((await layoutOf(slow, '8:1')).layout).toMatchObject({
      drive: 'ssd',
      link: { name: 'sata at 3 Gb/s', bps: 280e6 },
    });
    sataDrive(slow, 'a', {}, '<unknown>');
    expect((await layoutOf(slow, '8:1')).layout?.link).toBeNull();
  });

  test('NVMe on PCI Express', async () => {
    const tree = emptyTree();
    nvmeDrive(tree);
    const { layout } = await layoutOf(tree, '259:0');
    expect(layout).toMatchObject({ drive: 'nvme', link: { name: 'pcie-4-x4', bps: 7400e6 } });
    expect(layout?.drives[0]).toMatchObject({ model: 'FLASH 2TB', serial: 'N1', transport: 'nvme' });
  });

  // Documentation/hwmon/sysfs-interface.rst: thousandths of a degree.
  test('how warm drives are, and from where on they warn', async () => {
    const tree = emptyTree();
    nvmeDrive(tree);
    const nvme = '/sys/devices/pci0000:00/0000:00:1d.0/0000:3d:00.0/nvme/nvme0';
    Object.assign(tree.files, { [`${nvme}/hwmon3/temp1_input`]: '84850', [`${nvme}/hwmon3/temp1_max`]: '81850' });
    expect((await layoutOf(tree, '259:0')).stack.heat).toEqual([{ name: 'nvme0n1', celsius: 85, limit: 82 }]);
    const sata = emptyTree();
    sataDrive(sata, 'a', { 'device/hwmon/hwmon5/temp1_input': '40000', 'device/hwmon/hwmon5/temp1_max': '60000' });
    expect((await layoutOf(sata, '8:1')).stack.heat).toEqual([{ name: 'sda', celsius: 40, limit: 60 }]);
    sataDrive(sata, 'a', { 'device/hwmon/hwmon5/temp1_input': '40000', 'device/hwmon/hwmon5/temp1_max': '0' });
    expect((await layoutOf(sata, '8:1')).stack.heat).toEqual([]);
  });

  test.each([
    ['10000', 'usb-10g', 1000e6],
    ['480', 'usb at 480 Mb/s', (480e6 * 0.66) / 8],
  ])('on USB at %s Mb/s', async (speed, name, bps) => {
    const tree = emptyTree();
    usbDrive(tree, speed);
    expect((await layoutOf(tree, '65:112')).layout).toMatchObject({ drive: 'ssd', link: { name, bps } });
  });

  test('a device that is not there, and a network volume, tell nothing', async () => {
    expect((await layoutOf(emptyTree(), '8:1')).layout).toBeNull();
    const remote = await readStack(asSys(emptyTree()), none, { ...onDevice('0:50', 'nfs4'), remote: true });
    expect(remote).toEqual({
      root: null,
      errors: [],
      heat: [],
      notSeen: ['what a network volume is made of, and what its other users do'],
    });
  });
});

describe('md arrays (Documentation/admin-guide/md.rst)', () => {
  const whole = { raid_disks: '4', degraded: '0', sync_action: 'idle', sync_completed: 'none' };

  test.each([
    ['raid0', '0'],
    ['raid1', '1'],
    ['raid10', '10'],
    ['raid4', '4'],
    ['raid5', '5'],
    ['raid6', '6'],
    ['linear', 'linear'],
  ])('%s', async (level, told) => {
    const tree = disks('abcd');
    mdArray(tree, 'abcd', { ...whole, level });
    const { layout } = await layoutOf(tree, '9:0');
    expect(layout).toMatchObject({ level: told, members: 4, drive: 'hdd', by: 'md', health: { state: 'whole' } });
    expect(layout?.drives.map(({ name }) => name)).toEqual(['sda', 'sdb', 'sdc', 'sdd']);
  });

  test('degraded, with a member that has failed', async () => {
    const tree = disks('abcd');
    const failed = {
      'dev-sdd1/state': 'faulty',
      'dev-sdd1/errors': '12',
      'dev-sda1/state': 'in_sync',
      'dev-sda1/errors': '0',
    };
    mdArray(tree, 'abcd', { ...whole, level: 'raid5', degraded: '1', ...failed });
    const { layout, stack } = await layoutOf(tree, '9:0');
    expect(layout?.health).toEqual({ state: 'degraded', missing: 1, action: null, done: null });
    expect(layout?.members).toBe(4);
    expect(stack.errors).toContainEqual({ name: 'sdd1', by: 'md', errors: 12 });
  });

  test('spares are no members', async () => {
    const tree = disks('abcde');
    mdArray(tree, 'abcde', { ...whole, level: 'raid5', 'dev-sde1/state': 'spare' });
    expect((await layoutOf(tree, '9:0')).layout).toMatchObject({ members: 4, health: { state: 'whole' } });
  });

  test('a member is gone, and a spare is being filled', async () => {
    const tree = disks('abc');
    mdArray(tree, 'abc', { ...whole, level: 'raid6', sync_action: 'recover', sync_completed: '250 / 1000' });
    const { layout } = await layoutOf(tree, '9:0');
    expect(layout).toMatchObject({
      members: 4,
      health: { state: 'degraded', missing: 1, action: 'recover', done: 0.25 },
    });
  });

  test('whole, and resyncing; a check is no trouble', async () => {
    const tree = disks('abcd');
    mdArray(tree, 'abcd', { ...whole, level: 'raid10', sync_action: 'resync', sync_completed: '9 / 10' });
    expect((await layoutOf(tree, '9:0')).layout?.health).toMatchObject({ state: 'resyncing', missing: 0, done: 0.9 });
    mdArray(tree, 'abcd', { ...whole, level: 'raid10', sync_action: 'check', sync_completed: '9 / 10' });
    expect((await layoutOf(tree, '9:0')).layout?.health.state).toBe('whole');
    mdArray(tree, 'abcd', { ...whole, level: 'raid10', sync_action: 'reshape' });
    expect((await layoutOf(tree, '9:0')).layout?.health).toMatchObject({ state: 'resyncing', done: null });
  });
});

describe('the device mapper', () => {
  test('encryption on an array is looked through', async () => {
    const tree = disks('ab');
    mdArray(tree, 'ab', { level: 'raid1', raid_disks: '2', degraded: '0' });
    mapped(tree, 'safe', '253:0', 'CRYPT-LUKS2-x', ['md0']);
    expect((await layoutOf(tree, '253:0')).layout).toMatchObject({ level: '1', members: 2, by: 'md' });
  });

  // dmsetup(8), table: `<start> <length> <target> ...`.
  test.each([
    ['0 8388608 striped 4 128 8:1 2048 8:17 2048 8:33 2048 8:49 2048', '0'],
    ['0 4194304 linear 8:1 2048\n4194304 4194304 linear 8:17 2048', 'linear'],
    ['0 8388608 raid raid5_ls 3 128 region_size 4096 4 253:1 253:2 253:3 253:4', '5'],
    ['0 8388608 thin-pool 8:1 8:17 128 0', null],
  ])('a logical volume over four drives: %s', async (table, level) => {
    const tree = disks('abcd');
    mapped(tree, 'edit-media', '253:4', 'LVM-x', ['sda1', 'sdb1', 'sdc1', 'sdd1']);
    const { layout } = await layoutOf(tree, '253:4', commands({ 'dmsetup table edit-media': table }));
    expect(layout).toMatchObject({ level, members: 4, by: 'lvm', drive: 'hdd' });
    expect(layout?.notSeen).toHaveLength(level === null ? 1 : 0);
  });

  // lvmraid(7): each member has an image and its records, both on one drive; status in the form of the kernel's dm-raid.rst.
  test.each([
    ['AAAA 2048/2048 idle 0 0', { state: 'whole', missing: 0 }],
    ['AADA 2048/2048 idle 0 0', { state: 'degraded', missing: 1 }],
    ['AAaA 512/2048 recover 0 0', { state: 'resyncing', action: 'recover', done: 0.25 }],
  ])('LVM with parity: %s', async (status, health) => {
    const tree = disks('abcd');
    for (const [index, letter] of [...'abcd'].entries()) {
      mapped(tree, `edit-media_rmeta_${index}`, `253:${2 * index}`, 'LVM-x', [`sd${letter}1`]);
      mapped(tree, `edit-media_rimage_${index}`, `253:${2 * index + 1}`, 'LVM-x', [`sd${letter}1`]);
    }
    mapped(
      tree,
      'edit-media',
      '253:8',
      'LVM-x',
      [...'01234567'].map((index) => `dm-${index}`),
    );
    const run = commands({
      'dmsetup table edit-media':
        '0 8388608 raid raid5_ls 3 128 region_size 4096 4 253:0 253:1 253:2 253:3 253:4 253:5',
      'dmsetup status edit-media': `0 8388608 raid raid5_ls 4 ${status}`,
    });
    const { layout, stack } = await layoutOf(tree, '253:8', run);
    expect(layout).toMatchObject({ level: '5', members: 4, by: 'lvm', health });
    expect(stack.errors).toHaveLength(4);
  });

  test('a mirror of which one half is dead is no single drive', async () => {
    const tree = disks('a');
    mapped(tree, 'm_rimage_0', '253:0', 'LVM-x', ['sda1']);
    mapped(tree, 'm_rimage_1', '253:1', 'LVM-x', []);
    mapped(tree, 'm', '253:2', 'LVM-x', ['dm-0', 'dm-1']);
    const run = commands({
      'dmsetup table m': '0 8388608 raid raid1 3 0 region_size 4096 2 - 253:0 - 253:1',
      'dmsetup status m': '0 8388608 raid raid1 2 AD 2048/2048 idle 0 0',
    });
    expect((await layoutOf(tree, '253:2', run)).layout).toMatchObject({
      ...{ level: '1', members: 2, by: 'lvm', health: { state: 'degraded', missing: 1 } },
    });
  });

  test('without the right to ask its level is not told; on one drive it is that drive', async () => {
    const tree = disks('ab');
    mapped(tree, 'media', '253:4', 'LVM-x', ['sda1', 'sdb1']);
    expect((await layoutOf(tree, '253:4')).layout).toMatchObject({
      level: null,
      members: 2,
      notSeen: ['how media is spread over its 2 drives (dmsetup tells that to root alone)'],
    });
    mapped(tree, 'one', '253:5', 'LVM-y', ['sda1']);
    expect((await layoutOf(tree, '253:5')).layout).toMatchObject({ level: 'single', by: 'drive' });
  });

  test('a stripe over mirrored pairs is an array of arrays: no one level', async () => {
    const tree = disks('abcd');
    mdArray(tree, 'ab', { level: 'raid1', raid_disks: '2', degraded: '1' });
    mapped(tree, 'media', '253:4', 'LVM-x', ['md0', 'sdc1']);
    const { layout } = await layoutOf(
      tree,
      '253:4',
      commands({ 'dmsetup table media': '0 8 striped 2 128 9:0 0 8:33 0' }),
    );
    expect(layout).toMatchObject({
      level: null,
      notSeen: ['one level: it is an array of arrays'],
      health: { state: 'degraded' },
    });
  });
});

describe('btrfs with what /sys/fs/btrfs tells', () => {
  function btrfs(profiles: Record<string, string>, letters = 'ab', more: Record<string, string> = {}): Tree {
    const tree = disks(letters);
    const folder = '/sys/fs/btrfs/3f5b';
    for (const letter of letters) tree.links.push([`${folder}/devices/sd${letter}1`, `/sys/class/block/sd${letter}1`]);
    for (const [profile, bytes] of Object.entries(profiles))
      tree.files[`${folder}/allocation/data/${profile}/total_bytes`] = bytes;
    for (const [file, text] of Object.entries(more)) tree.files[`${folder}/${file}`] = text;
    tree.links.push(['/dev/x', '/dev/sda1']);
    return tree;
  }

  test('two profiles while it is changed over; errors that it counted; a device that is gone', async () => {
    const stats = 'write_errs 2\nread_errs 0\nflush_errs 0\ncorruption_errs 1\ngeneration_errs 0';
    const more = { 'devinfo/2/error_stats': stats, 'devinfo/3/missing': '1', 'devinfo/1/missing': '0' };
    const { layout, stack } = await layoutOf(
      btrfs({ raid1: '9000', single: '100' }, 'ab', more),
      '0:40',
      none,
      'btrfs',
    );
    expect(layout).toMatchObject({ level: '10', members: 3, by: 'btrfs', health: { state: 'degraded', missing: 1 } });
    expect(layout?.notSeen).toEqual(['one layout: its data are in part raid1, in part single']);
    expect(stack.errors).toContainEqual({ name: 'device 2', by: 'btrfs', errors: 3 });
  });

  test.each([
    ['single', 'linear'],
    ['raid1c3', '1'],
    ['raid5', '5'],
    ['raid6', '6'],
  ])('%s over four drives', async (profile, level) => {
    expect((await layoutOf(btrfs({ [profile]: '1' }, 'abcd'), '0:40', none, 'btrfs')).layout).toMatchObject({
      level,
      members: 4,
    });
  });

  test('mirrored data do not outlive a drive that has the only records of where they are', async () => {
    const told = async (profile: string) => {
      const tree = btrfs({ raid1: '1' }, 'ab', { [`allocation/metadata/${profile}/total_bytes`]: '1' });
      return (await layoutOf(tree, '0:40', none, 'btrfs')).layout?.notSeen;
    };
    expect(await told('dup')).toEqual(['that it outlives a drive: the file system keeps its own records as dup']);
    expect(await told('raid1')).toEqual([]);
  });

  test('one that is not in /sys', async () => {
    const { layout, stack } = await layoutOf(disks('a'), '0:40', none, 'btrfs');
    expect([layout, stack.notSeen.length]).toEqual([null, 1]);
  });
});

describe('ZFS', () => {
  // Output in the form of zpool-status(8), examples; paths as `-P` gives them.
  const status = (tree: string, scan = 'none requested') =>
    `  pool: media\n state: ONLINE\n  scan: ${scan}\nconfig:\n\n\tNAME                 STATE     READ WRITE CKSUM\n${tree}\n\nerrors: No known data errors\n`;
  const of = (letters: string, told: string | null, files: Record<string, string> = {}) => {
    const tree = disks(letters);
    Object.assign(tree.files, files);
    const run = commands(told === null ? {} : { 'zpool status -P media': told });
    return readStack(asSys(tree), run, { ...onDevice('0:41', 'zfs'), source: 'media/edit' }).then(detectedLayout);
  };
  const line = (depth: number, name: string, state = 'ONLINE') =>
    `\t${' '.repeat(depth * 2)}${name}  ${state}       0     0     0`;

  test.each([
    ['raidz1-0', '5'],
    ['raidz2-0', '6'],
    ['mirror-0', '1'],
    ['draid1-0', null],
  ])('%s', async (group, level) => {
    const tree = [line(0, 'media'), line(1, group), line(2, '/dev/sda1'), line(2, '/dev/sdb1'), line(2, '/dev/sdc1')];
    const spare = [line(0, 'spares'), line(1, '/dev/sdd1')];
    expect(await of('abcd', status([...tree, ...spare].join('\n')))).toMatchObject({ level, members: 3, by: 'zfs' });
  });

  test('drives beside each other, and mirrors beside each other', async () => {
    const plain = [line(0, 'media'), line(1, '/dev/sda1'), line(1, '/dev/sdb1')];
    expect(await of('ab', status(plain.join('\n')))).toMatchObject({ level: '0', members: 2 });
    const pair = (index: number, one: string, other: string) => [
      line(1, `mirror-${index}`),
      line(2, one),
      line(2, other),
    ];
    const pairs = [line(0, 'media'), ...pair(0, '/dev/sda1', '/dev/sdb1'), ...pair(1, '/dev/sdc1', '/dev/sdd1')];
    expect(await of('abcd', status(pairs.join('\n')))).toMatchObject({ level: '10', members: 4 });
  });

  test('a member that is lost, and a resilver', async () => {
    const tree = [
      line(0, 'media', 'DEGRADED'),
      line(1, 'raidz1-0', 'DEGRADED'),
      line(2, '/dev/sda1'),
      line(2, '/dev/sdb1'),
      line(2, '/dev/sdz1', 'UNAVAIL'),
    ];
    const scan =
      'resilver in progress since Thu Mar  4 10:00:00 2027\n\t1.2T scanned, 620G issued, 31.50% done, 02:10:00 to go';
    expect(await of('ab', status(tree.join('\n'), scan))).toMatchObject({
      members: 3,
      health: { state: 'degraded', missing: 1, action: 'resilver', done: 0.315 },
    });
  });

  test('a member that is gone is told by a number; one that is being replaced stands beside the new one in one place', async () => {
    const gone = [
      ...[line(0, 'media', 'DEGRADED'), line(1, 'raidz1-0', 'DEGRADED')],
      ...[line(2, '/dev/sda1'), line(2, '/dev/sdb1'), line(2, '12463985739845', 'UNAVAIL')],
    ];
    expect(await of('ab', status(gone.join('\n')))).toMatchObject({
      ...{ level: '5', members: 3, health: { state: 'degraded', missing: 1 } },
    });
    const replacing = [
      ...[line(0, 'media', 'DEGRADED'), line(1, 'raidz1-0', 'DEGRADED'), line(2, '/dev/sda1')],
      ...[line(2, 'replacing-1', 'DEGRADED'), line(3, '/dev/sdb1', 'FAULTED'), line(3, '/dev/sdd1')],
      ...[line(2, '/dev/sdc1'), line(0, 'spares'), line(1, '/dev/sde1')],
    ];
    expect(await of('abcd', status(replacing.join('\n')))).toMatchObject({
      ...{ level: '5', members: 3, health: { state: 'degraded', missing: 1 } },
    });
    const beside = [
      ...[line(0, 'media'), line(1, '/dev/sda1')],
      ...[line(1, 'replacing-1'), line(2, '/dev/sdb1'), line(2, '/dev/sdc1')],
    ];
    expect(await of('abc', status(beside.join('\n')))).toMatchObject({ level: '0', members: 2 });
  });

  test('without its command the state of the pool alone is told', async () => {
    expect(await of('a', null, { '/proc/spl/kstat/zfs/media/state': 'DEGRADED\n' })).toMatchObject({
      level: null,
      health: { state: 'degraded' },
    });
    expect(await of('a', null)).toBeNull();
  });
});
