import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type ShelfVolume, shelfVolume, whyNoShelf } from '../rim/backup/shelves.ts';
import { type Bench, bench, media, until } from './headroomd.ts';

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: backups by the whole program: ${why}`);

describe.skipIf(why !== null)('backups by the program as it is run', () => {
  let place: Bench;
  let drive: ShelfVolume;
  beforeEach(() => {
    place = bench();
    drive = shelfVolume('ext4', 48);
    mkdirSync(join(place.volume, 'Tidewater Sessions'), { recursive: true });
  });
  afterEach(async () => {
    await place.clear();
    drive.remove();
  });

  function configure(): string {
    const config = join(place.folder, 'headroomd.toml');
    writeFileSync(
      config,
      `[[volume]]
name = "stripe"
path = "${place.volume}"

[[shelf]]
name = "shelf-a"
path = "${drive.mountPoint}"

[[backup]]
from = "stripe"
to = ["shelf-a"]
`,
    );
    return config;
  }

  test('a clip that came is copied, read back, and no longer exposed; killed and started again nothing is copied twice', async () => {
    const daemon = await place.start(['--config', configure()]);
    const status = () => daemon.status();
    cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Tidewater Sessions', 'tidewater-a.mov'));
    await until('the clip is ready', () => status().projects[0]?.clips === 1);
    await until('it is exposed', () => (status().volumes[0]?.safety.exposedBytes ?? 0) > 0);

    // The drive is not mounted: the folder is one of the system's, on the working volume's own drive.
    expect(place.call('backup', 'now').stdout).toMatch(/^Begun: stripe to shelf-a\./);
    await until('it is refused', () => status().backups[0]?.state === 'refused');
    expect(readdirSync(drive.mountPoint)).toEqual([]);
    const refused = place.call('backup', 'now', '--wait', '--json');
    expect([refused.status, refused.stderr, JSON.parse(refused.stdout)]).toMatchObject([1, '', [{ state: 'refused' }]]);

    drive.mount();
    const done = place.call('backup', 'now', 'shelf-a', '--wait');
    expect([done.status, done.stderr]).toEqual([0, '']);
    expect(done.stdout).toMatch(/^The last backup of stripe to shelf-a ended at .*: 1 file \(/);
    await until('it has ended', () => status().backups[0]?.state === 'done');
    expect(status().backups[0]).toMatchObject({ shelf: 'shelf-a', files: 1, verifiedFiles: 1, failures: 0 });
    await until('nothing is exposed', () => status().volumes[0]?.safety.exposedBytes === 0);
    expect(status().volumes[0]?.safety.lastVerifiedAt).not.toBeNull();
    const copy = join(drive.mountPoint, 'stripe/Tidewater Sessions/tidewater-a.mov');
    expect(readFileSync(copy).equals(readFileSync(join(media, 'tidewater-a.mov')))).toBe(true);
    const told = place.call('backup', 'status').stdout;
    expect(told).toMatch(/^stripe: No footage here waits for a copy, as far as is known\./);
    expect(told).toMatch(
      /The last backup of stripe to shelf-a ended\s+at .*: 1 file \(.*\) copied,\s+each\s+read\s+back\s+from\s+the\s+shelf\./,
    );

    await daemon.end('SIGKILL');
    const next = await place.start(['--config', configure()]);
    await until('it is known as before', () => next.status().volumes[0]?.safety.exposedBytes === 0);
    expect(next.status().backups[0]?.state).toBe('done');
    place.call('backup', 'now');
    await until('nothing was to do', () => next.status().backups[0]?.wantedFiles === 0);

    // Taken away from the volume, it lives on.
    rmSync(join(place.volume, 'Tidewater Sessions', 'tidewater-a.mov'));
    await until('it is gone', () => next.status().projects[0]?.clips !== 1);
    expect(readFileSync(copy).length).toBeGreaterThan(0);
    const list = place.call('backup', 'restore-list').stdout;
    expect(list).toMatch(
      /^# 1 file \(.*\) of stripe is on shelf-a and no longer on the volume; each was[\s#]+read there on \d{4}/,
    );
    // As a person would, in a shell.
    execFileSync('sh', ['-e'], { input: list });
    await until('it is back', () => next.status().projects[0]?.clips === 1);
    place.call('backup', 'now');
    await until('its copy counts as before', () => next.status().volumes[0]?.safety.exposedBytes === 0);
    expect(place.call('backup', 'restore-list').stdout).toMatch(/^Nothing: /);
    expect(await next.end()).toBe(0);
  });

  test('a shelf that nobody configured, and adopting without a name, are told in words', async () => {
    const daemon = await place.start(['--config', configure()]);
    expect(place.call('backup', 'now', 'shelf-z')).toMatchObject({
      ...{ status: 1, stderr: 'headroomd: no backup goes to shelf-z; there are shelf-a.\n' },
    });
    expect(place.call('backup', 'now', '--adopt').status).toBe(2);
    expect(await daemon.end()).toBe(0);
    expect(place.call('backup', 'status').status).toBe(3);
  });
});
