import * as nodeFs from 'node:fs';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { detectedLayout } from '../../../src/core/assess/detected-layout.ts';
import { askSmart, runCommand } from '../../../src/rim/drives/commands.ts';
import { readStack } from '../../../src/rim/drives/stack.ts';
import { readDiskStats } from '../../../src/rim/volume/disk-stats.ts';
import { mountOf } from '../../../src/rim/volume/mount.ts';
import { volumeCounters } from '../../../src/rim/volume/volume-counters.ts';
import { loseDevice, makeBtrfs, run, whyNoBtrfs } from './btrfs-volume.ts';

const why = whyNoBtrfs();
if (why !== null) console.warn(`NOT CHECKED: layouts of real btrfs over loop devices: ${why}`);

async function stackOf(mountPoint: string) {
  const mount = mountOf(nodeFs, mountPoint);
  if (mount === null) throw new Error('not mounted');
  return readStack(nodeFs, runCommand, mount);
}

describe.skipIf(why !== null)('a real btrfs', () => {
  test.each([
    ['single', 1, 'single'],
    ['raid0', 2, '0'],
    ['raid1', 2, '1'],
    ['raid10', 4, '10'],
    ['raid5', 3, '5'],
  ])('%s over %i loop devices', async (profile, members, level) => {
    const volume = makeBtrfs(profile, members);
    try {
      writeFileSync(join(volume.mountPoint, 'clip.mov'), Buffer.alloc(20_000_000, 7));
      run('sync', '-f', volume.mountPoint);
      const layout = detectedLayout(await stackOf(volume.mountPoint));
      expect(layout).toMatchObject({ level, members, health: { state: 'whole' }, errors: [] });
      expect(layout?.drives.map(({ name }) => `/dev/${name}`).sort()).toEqual([...volume.loops].sort());
      // What a drive that is no drive is, is not told.
      expect(layout?.drive).toBeNull();
    } finally {
      volume.remove();
    }
  });

  test('with a device that is gone it is degraded', async () => {
    const volume = makeBtrfs('raid1', 2);
    try {
      loseDevice(volume);
      const layout = detectedLayout(await stackOf(volume.mountPoint));
      expect(layout).toMatchObject({ level: '1', members: 2, health: { state: 'degraded', missing: 1 } });
    } finally {
      volume.remove();
    }
  });

  test('its counters are those of its members together', async () => {
    const volume = makeBtrfs('raid0', 2);
    try {
      const drives = volume.loops.map((loop) => loop.slice('/dev/'.length));
      const top = mountOf(nodeFs, volume.mountPoint)?.device ?? null;
      const counters = () => volumeCounters(nodeFs, readDiskStats(nodeFs), { top, drives, copies: 1, pids: [] }, 0);
      const before = counters();
      writeFileSync(join(volume.mountPoint, 'clip.mov'), Buffer.alloc(40_000_000, 7));
      run('sync', '-f', volume.mountPoint);
      const written = (counters()?.writtenBytes ?? 0) - (before?.writtenBytes ?? 0);
      expect(written).toBeGreaterThanOrEqual(40_000_000);
      expect(written).toBeLessThan(60_000_000);
    } finally {
      volume.remove();
    }
  });
});

test('a command that is not there, fails or hangs gives no answer', async () => {
  expect(await runCommand('headroomd-no-such-command', [])).toBeNull();
  expect(await runCommand('false', [])).toBeNull();
  expect(await runCommand('echo', ['yes'])).toBe('yes\n');
  // A loop device has no health to tell, with smartctl as without.
  expect(await askSmart('loop7')).toBeNull();
});
