import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { loseDevice, makeBtrfs, whyNoBtrfs } from '../rim/drives/btrfs-volume.ts';
import { type Bench, bench, until } from './headroomd.ts';

const why = whyNoBtrfs();
if (why !== null) console.warn(`NOT CHECKED: a daemon on a volume of several drives: ${why}`);

let place: Bench;
beforeEach(() => {
  place = bench();
});
afterEach(() => place.clear());

describe.skipIf(why !== null)('a volume of two real devices', () => {
  test('its layout is shown beside what is declared, and a contradiction is told; without a device it is critical at once', async () => {
    const volume = makeBtrfs('raid1', 2);
    const config = join(place.folder, 'headroomd.toml');
    const declared = 'layout = { level = "0", members = 3, drive = "ssd" }';
    writeFileSync(config, `[[volume]]\nname = "stripe"\npath = "${volume.mountPoint}"\n${declared}\n`);
    try {
      const whole = await place.start(['--config', config]);
      await until('the layout is seen', () => whole.status().volumes[0]?.layout.detected !== null);
      const [shown] = whole.status().volumes;
      expect(shown?.layout).toMatchObject({
        ...{ level: '1', members: 2, drive: 'ssd', basis: 'detected', fileSystem: 'btrfs' },
        mountOptions: expect.arrayContaining(['rw']),
        declared: { level: '0', members: 3, drive: 'ssd', link: null },
        detected: { level: '1', members: 2, by: 'btrfs', health: { state: 'whole' } },
      });
      await until('the contradiction is told', () => whole.status().advisories.length === 1);
      expect(whole.status().advisories[0]).toMatchObject({ kind: 'layout-contradiction', severity: 'warning' });
      expect(place.call('status').stdout.replace(/\s+/g, ' ')).toContain(
        'Built at level 1 of 2 flash drives (as the system shows it).',
      );
      await whole.end();

      loseDevice(volume);
      const began = performance.now();
      const degraded = await place.start(['--config', config]);
      await until('it is critical', () => degraded.status().advisories[0]?.kind === 'array-degraded', 10);
      expect(performance.now() - began).toBeLessThan(15_000);
      expect(degraded.status().advisories[0]).toMatchObject({
        severity: 'critical',
        message: expect.stringMatching(
          /^stripe: its array at level 1 is not whole: 1 member of 2 is missing or failed\./,
        ),
      });
      await degraded.end();
    } finally {
      volume.remove();
    }
  });
});
