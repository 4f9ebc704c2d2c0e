import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { cardMounts, type MountLine } from '../../../src/rim/card/card-mounts.ts';
import type { CardReader } from '../../../src/rim/card/card-reader.ts';
import { type CardEvent, createCardWatch } from '../../../src/rim/card/card-watch.ts';
import { type DeviceFs, deviceNames } from '../../../src/rim/card/device-names.ts';
import type { CardLook, CardMount } from '../../../src/rim/card/protocol.ts';
import { parseMounts } from '../../../src/rim/volume/mount.ts';
import { fakeClock } from '../../fakes/clock.ts';

const SECOND = 1000;
const UNDER = ['/media', '/run/media', '/mnt'];

/** Lines as proc_pid_mountinfo(5) lays them down; mount points of a desktop with spaces as octal. */
const TABLE = `21 27 0:19 / /sys rw,nosuid,nodev,noexec,relatime shared:7 - sysfs sysfs rw
27 1 254:0 / / rw,relatime shared:1 - ext4 /dev/vda rw
40 27 9:0 / /media/stripe rw,relatime shared:20 - xfs /dev/md0 rw
41 27 8:17 / /media/editor/SALT\\040A ro,nosuid,nodev,relatime shared:21 - exfat /dev/sdb1 ro
42 27 0:50 / /media/editor/Camera rw,nosuid,nodev,relatime shared:22 - fuse.mtp mtp-camera rw
43 27 0:51 / /mnt/server rw,relatime shared:23 - nfs4 server:/export rw
44 27 8:33 / /mnt/card rw,relatime shared:24 - fuseblk /dev/sdc1 rw
45 27 8:33 / /mnt/again rw,relatime shared:25 - fuseblk /dev/sdc1 rw
46 27 0:52 / /mnt/memory rw,relatime shared:26 - tmpfs tmpfs rw
47 27 8:49 / /backup rw,relatime shared:27 - ext4 /dev/sdd1 rw
48 27 9:0 / /mnt/stripe-too rw,relatime shared:28 - xfs /dev/md0 rw
49 27 8:65 / /mnt/covered rw,relatime shared:29 - vfat /dev/sde1 rw
50 27 0:53 / /mnt/covered rw,relatime shared:30 - tmpfs tmpfs rw
`;

describe('which mounts may be cards', () => {
  test('below the folders, on a device or FUSE, no volume, each device once', () => {
    const found = cardMounts(parseMounts(TABLE), UNDER, new Set(['/media/stripe']));
    expect(found.map(({ mountPoint }) => mountPoint)).toEqual([
      '/media/editor/SALT A',
      '/media/editor/Camera',
      '/mnt/card',
    ]);
  });

  test('the folder itself is no card, and a name that only begins like it is not below it', () => {
    const at = (mountPoint: string): MountLine => ({
      id: 1,
      mountPoint,
      device: '8:1',
      fileSystem: 'vfat',
      source: '/dev/sda1',
    });
    expect(cardMounts([at('/mnt')], UNDER, new Set())).toEqual([]);
    expect(cardMounts([at('/mnt2/card')], UNDER, new Set())).toEqual([]);
    expect(cardMounts([at('/card')], ['/'], new Set())).toHaveLength(1);
  });

  test('this machine has its table read', () => {
    expect(parseMounts(readFileSync('/proc/self/mountinfo', 'utf8')).length).toBeGreaterThan(1);
  });
});

describe('what a card is called', () => {
  const mount: CardMount = {
    mountPoint: '/media/editor/SALT A1',
    device: '8:17',
    fileSystem: 'exfat',
    source: '/dev/sdb1',
  };
  /** As udev(7) makes them: links by label and by UUID, unsafe bytes as \\xNN. */
  const links: Record<string, Record<string, string>> = {
    '/dev/disk/by-label': { OTHER: '../../sda1', 'SALT\\x20A\\xc3\\xa9': '../../sdb1' },
    '/dev/disk/by-uuid': { 'AAAA-BBBB': '../../sda1', '1A2B-3C4D': '../../sdb1' },
  };
  const fsWith = (known: typeof links): DeviceFs =>
    ({
      readdirSync(folder: string) {
        const names = known[folder];
        if (names === undefined) throw new Error('ENOENT');
        return Object.keys(names);
      },
      readlinkSync: (path: string) =>
        known[path.slice(0, path.lastIndexOf('/'))]?.[path.slice(path.lastIndexOf('/') + 1)],
      statfsSync: () => ({ blocks: 1000, bsize: 512 }),
    }) as unknown as DeviceFs;

  test('by its label and UUID, where udev tells them', () => {
    expect(deviceNames(fsWith(links), mount)).toEqual({ label: 'SALT Aé', key: 'uuid 1A2B-3C4D' });
  });

  test('else by name, size and type', () => {
    expect(deviceNames(fsWith({}), mount)).toEqual({ label: null, key: 'name SALT A1, 512000 bytes, exfat' });
    const withoutUuid = { ...links, '/dev/disk/by-uuid': {} };
    expect(deviceNames(fsWith(withoutUuid), mount).key).toBe('name SALT Aé, 512000 bytes, exfat');
  });
});

/** A watch over a table that the test writes, and a reader that answers what the test says. */
function world() {
  const clock = fakeClock(0);
  const events: string[] = [];
  const looks: string[] = [];
  const silent = { debug() {}, info() {}, warn() {}, error() {} };
  const state = { table: '', reads: 0, answer: (): CardLook | Promise<CardLook> => card(1) };
  const reader: CardReader = {
    async look({ mountPoint }) {
      looks.push(mountPoint);
      return state.answer();
    },
    stop() {},
  };
  const watch = createCardWatch({
    table: () => {
      state.reads += 1;
      return state.table;
    },
    parse: parseMounts,
    under: ['/media'],
    volumes: () => new Set(),
    reader,
    clock,
    log: silent,
    onEvent: (event: CardEvent) =>
      void events.push(
        `${event.type} ${event.mount.mountPoint}${event.type === 'read' ? ` ${event.reading.files.length}` : ''}`,
      ),
  });
  return { clock, events, looks, state, watch };
}

const card = (files: number): CardLook => ({
  is: 'card',
  reading: {
    layout: 'DCIM',
    name: 'SALT_A',
    key: 'uuid',
    device: 1n,
    ino: 2n,
    lists: [],
    files: Array.from({ length: files }, (_, n) => ({ path: `${n}`, size: n, mtimeMs: n })),
    gap: null,
  },
});

const mounted = (id: number, name = 'SALT_A') => `${id} 27 8:17 / /media/${name} ro shared:1 - exfat /dev/sdb1 ro\n`;

describe('the watch', () => {
  test('a card that is put in is read within three seconds, again every minute, and told when it goes', async () => {
    const { clock, events, looks, state, watch } = world();
    watch.start();
    await clock.advance(10 * SECOND);
    expect(looks).toEqual([]);
    state.table = mounted(41);
    await clock.advance(3 * SECOND);
    expect(events).toEqual(['read /media/SALT_A 1']);
    state.answer = () => card(2);
    await clock.advance(60 * SECOND);
    expect(events).toEqual(['read /media/SALT_A 1', 'read /media/SALT_A 2']);
    state.table = '';
    await clock.advance(3 * SECOND);
    expect(events.slice(2)).toEqual(['gone /media/SALT_A']);
    await clock.advance(10 * 60 * SECOND);
    expect(looks).toHaveLength(2);
    watch.stop();
  });

  test('one that was pulled and put in again between two looks is read anew', async () => {
    const { clock, events, state, watch } = world();
    state.table = mounted(41);
    watch.start();
    await clock.advance(SECOND);
    state.table = mounted(55);
    await clock.advance(3 * SECOND);
    expect(events).toEqual(['read /media/SALT_A 1', 'gone /media/SALT_A', 'read /media/SALT_A 1']);
    watch.stop();
  });

  test('one that goes while it is read for the first time: what was read is told, and that it is gone', async () => {
    const { clock, events, state, watch } = world();
    const { promise, resolve } = Promise.withResolvers<CardLook>();
    state.answer = () => promise;
    state.table = mounted(41);
    watch.start();
    await clock.advance(3 * SECOND);
    state.table = '';
    await clock.advance(3 * SECOND);
    expect(events).toEqual([]);
    resolve(card(3));
    await clock.advance(0);
    expect(events).toEqual(['read /media/SALT_A 3', 'gone /media/SALT_A']);
    watch.stop();
  });

  test('what is no card is left alone until it is mounted anew; what is empty is looked at again', async () => {
    const { clock, looks, state, watch } = world();
    state.answer = () => ({ is: 'no-card', empty: false });
    state.table = mounted(41);
    watch.start();
    await clock.advance(3600 * SECOND);
    expect(looks).toHaveLength(1);
    state.answer = () => ({ is: 'no-card', empty: true });
    state.table = mounted(42);
    await clock.advance(3 * SECOND);
    state.answer = () => card(1);
    await clock.advance(60 * SECOND);
    expect(looks).toHaveLength(3);
    watch.stop();
  });

  test('one that cannot be read is tried again, ever more rarely; a card stays one meanwhile', async () => {
    const { clock, events, looks, state, watch } = world();
    state.table = mounted(41);
    watch.start();
    await clock.advance(SECOND);
    state.answer = () => ({ is: 'unknown', why: 'EIO' });
    await clock.advance(60 * SECOND);
    expect(looks).toHaveLength(2);
    await clock.advance(7 * SECOND);
    expect(looks).toHaveLength(2);
    await clock.advance(3 * SECOND);
    expect(looks).toHaveLength(3);
    await clock.advance(600 * SECOND);
    expect(looks.length).toBeLessThan(16);
    state.table = '';
    await clock.advance(3 * SECOND);
    expect(events).toEqual(['read /media/SALT_A 1', 'gone /media/SALT_A']);
    watch.stop();
  });

  test('while the table stays as it is it is only compared; after the stop it is not even read', async () => {
    const { clock, looks, state, watch } = world();
    state.table = TABLE;
    watch.start();
    await clock.advance(20 * SECOND);
    const { reads } = state;
    expect(reads).toBe(9);
    watch.stop();
    state.table = mounted(41);
    await clock.advance(600 * SECOND);
    expect(state.reads).toBe(reads);
    expect(looks).not.toContain('/media/SALT_A');
  });
});
