import { expect, test } from 'vitest';
import type { SmartReport } from '../../../src/core/assess/drive-signs.ts';
import type { MemberErrors, StorageStack } from '../../../src/core/assess/storage-stack.ts';
import { createDriveView } from '../../../src/daemon/assess/drive-view.ts';
import { fakeClock } from '../../fakes/clock.ts';

const stackWith = (
  missing: number,
  errors: MemberErrors[] = [],
  transport: 'sata' | 'virtual' = 'sata',
  drives = ['sda', 'sdb', 'sdc'],
): StorageStack => ({
  root: {
    ...{ kind: 'array', by: 'md', level: '5', wanted: 3, missing, sync: null },
    members: drives.map((name) => ({
      kind: 'drive' as const,
      drive: { name, model: 'DISK', serial: name, bytes: 1, rotational: true, transport, link: null },
    })),
  },
  errors,
  heat: [
    { name: 'sdb', celsius: 70, limit: 70 },
    { name: 'sdc', celsius: 69, limit: 70 },
    { name: 'sdz', celsius: 99, limit: 70 },
  ].filter(() => isHot),
  notSeen: [],
});
let isHot = false;

function stage(first: StorageStack | null) {
  const clock = fakeClock(0);
  const world = { stack: first, report: {} as SmartReport | null };
  const asked: string[] = [];
  const changes: number[] = [];
  const view = createDriveView({
    volumes: ['stripe'],
    drives: {
      stack: async () => world.stack,
      smart: async (drive) => {
        asked.push(drive);
        return world.report;
      },
    },
    clock,
    changed: () => changes.push(clock.ticks()),
  });
  return { clock, world, asked, changes, view };
}

test('an array that loses a member is seen within a minute; one that cannot be looked at stays as it was known', async () => {
  const { clock, world, changes, view } = stage(stackWith(0));
  await view.start();
  expect(view.of('stripe').detected).toMatchObject({ level: '5', members: 3, health: { state: 'whole' } });
  expect(view.of('another')).toEqual({ detected: null, signs: [] });
  world.stack = stackWith(1);
  await clock.advance(60_000);
  expect(view.of('stripe').detected?.health.state).toBe('degraded');
  expect(changes.length).toBe(2);
  world.stack = null;
  await clock.advance(60_000);
  expect(view.of('stripe').detected?.health.state).toBe('degraded');
  expect(changes.length).toBe(2);
  world.stack = { root: null, errors: [], heat: [], notSeen: [] };
  await clock.advance(60_000);
  expect(view.of('stripe').detected).toBeNull();
  view.stop();
  await clock.advance(600_000);
  expect(changes.length).toBe(3);
});

test('drives are asked once an hour, and what they said last stands while they sleep', async () => {
  const { clock, world, asked, view } = stage(stackWith(0));
  world.report = { ata_smart_attributes: { table: [{ id: 197, raw: { value: 8 } }] } };
  await view.start();
  expect(asked).toEqual(['sda', 'sdb', 'sdc']);
  await clock.advance(30 * 60_000);
  expect(asked).toHaveLength(3);
  world.report = null;
  await clock.advance(31 * 60_000);
  expect(asked.length).toBeGreaterThan(3);
  expect(view.of('stripe').signs).toHaveLength(3);
  expect(view.of('stripe').signs[0]).toMatchObject({ drive: 'sda', model: 'DISK', kind: 'sectors-pending' });
  view.stop();
});

test('errors that the array or the file system counted are signs; of the kernel only what comes on top', async () => {
  const errors = (kernel: number): MemberErrors[] => [
    { name: 'sdb1', by: 'md', errors: 2 },
    { name: 'device 3', by: 'btrfs', errors: 1 },
    { name: 'sda', by: 'kernel', errors: kernel },
  ];
  const { clock, world, view } = stage(stackWith(0, errors(40)));
  await view.start();
  expect(view.of('stripe').signs.map(({ drive, serial, words }) => [drive, serial, words])).toEqual([
    ['sdb1', 'sdb', 'the array has counted 2 errors of it'],
    ['device 3', null, 'the file system has counted 1 error of it'],
  ]);
  world.stack = stackWith(0, errors(43));
  await clock.advance(60_000);
  expect(view.of('stripe').signs.map(({ words }) => words)).toContain(
    'since headroomd began the kernel has counted 3 errors of it',
  );
  view.stop();
});

// Kernel names of drives and partitions: Documentation/admin-guide/devices.txt (sd, 8 block; nvme from memory).
test.each([
  ['sdb1', 'sdb'],
  ['sdb', 'sdb'],
  ['sdbb1', 'sdbb'],
  ['nvme0n1p2', 'nvme0n1'],
  ['nvme0n11p2', 'nvme0n11'],
  ['sdbc1', null],
  ['nvme0n12', null],
])('an error of %s is one of %s, and of no drive whose name begins alike', async (name, drive) => {
  const names = ['sdb', 'nvme0n1', 'sdbb', 'nvme0n11'];
  const stack = stackWith(0, [{ name, by: 'md', errors: 1 }], 'sata', names);
  const { view } = stage(stack);
  await view.start();
  expect(view.of('stripe').signs.map(({ serial }) => serial)).toEqual([drive]);
  view.stop();
});

test('a drive that is as warm as it warns of itself, once, whoever tells it', async () => {
  isHot = true;
  const { clock, world, view } = stage(stackWith(0));
  isHot = false;
  await view.start();
  expect(view.of('stripe').signs).toMatchObject([
    { drive: 'sdb', serial: 'sdb', kind: 'hot', words: 'it is at 70 °C, its own warning is at 70' },
  ]);
  world.report = { nvme_smart_health_information_log: { critical_warning: 2 } };
  await clock.advance(61 * 60_000);
  expect(view.of('stripe').signs.map(({ drive }) => drive)).toEqual(['sda', 'sdb', 'sdc']);
  view.stop();
});

test('a drive that is none is not asked', async () => {
  const { asked, view } = stage(stackWith(0, [], 'virtual'));
  await view.start();
  expect(asked).toEqual([]);
  view.stop();
});
