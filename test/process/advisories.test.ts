import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

/** Advisories that really raise and clear, on a real file system of a known size and with real clips. */
let place: Bench;

beforeEach(() => {
  place = bench();
  mkdirSync(place.volume, { recursive: true });
});
afterEach(async () => {
  await place.clear();
});

/**
 * Runs with a file system of its own in the volume's place: of one in memory no drive tells anything, while budgets of some kB/s are
 * nothing beside what else goes on at the drive of this machine. False: it cannot be mounted.
 */
async function onOwnVolume(body: () => Promise<void>): Promise<boolean> {
  const mounted = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=40M', 'tmpfs', place.volume], { encoding: 'utf8' });
  if (mounted.status !== 0) return false;
  try {
    await body();
  } finally {
    spawnSync('umount', ['-l', place.volume]);
  }
  return true;
}

/** A test on such a volume. */
function onMemory(name: string, body: () => Promise<void>): void {
  test(name, async () => {
    if (!(await onOwnVolume(body))) console.warn(`NOT CHECKED: ${name}, because mount is not permitted here`);
  });
}

function configuration(volume: string): string[] {
  const file = join(place.folder, 'headroomd.toml');
  writeFileSync(
    file,
    `[thresholds]\nraise_after = "1 s"\nclear_after = "2 s"\nsession = "1 min"\n[[volume]]\nname = "stripe"\npath = "${place.volume}"\n${volume}\n`,
  );
  return ['--config', file];
}

function raised(daemon: Running): string[] {
  return daemon.status().advisories.map(({ kind, severity }) => `${kind} ${severity}`);
}

function announcements(daemon: Running): string[] {
  return daemon
    .log()
    .split('\n')
    .flatMap((line) => /"advisory":"([^:"]+)[^"]*","event":"([^"]+)"/.exec(line)?.slice(1, 3).join(' ') ?? []);
}

test('room below the reserve is told with figures, and over when there is room again', async () => {
  const mounted = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=40M', 'tmpfs', place.volume], { encoding: 'utf8' });
  if (mounted.status !== 0) {
    console.warn(`NOT CHECKED: room below the reserve, because mount is not permitted here: ${mounted.stderr}`);
    return;
  }
  try {
    mkdirSync(join(place.volume, 'Saltmarsh', 'Footage'), { recursive: true });
    const daemon = await place.start(configuration('reserve = "25%"'));
    await until('the room is known', () => daemon.status().volumes[0]?.capacity.totalBytes === 40 * 1024 * 1024);
    expect(raised(daemon)).toEqual([]);
    const ballast = join(place.volume, 'Saltmarsh', 'sound.bin');
    spawnSync('dd', ['if=/dev/zero', `of=${ballast}`, 'bs=1M', 'count=33'], { stdio: 'ignore' });
    await until('it is told', () => raised(daemon).join() === 'capacity-reserve warning', 20);
    const [advisory] = daemon.status().advisories;
    // 40 MiB less 33 MiB is 7 MiB = 7.34 MB, of which 25 % of 40 MiB = 10.5 MB are to be kept free.
    expect(advisory?.message).toMatch(/stripe/);
    expect(advisory?.message).toMatch(/7\.3\d MB/);
    expect(advisory?.message).toMatch(/10\.5 MB/);
    rmSync(ballast);
    await until('it is over', () => raised(daemon).length === 0, 20);
    expect(announcements(daemon)).toEqual(['capacity-reserve first', 'capacity-reserve cleared']);
    await daemon.end();
  } finally {
    spawnSync('umount', ['-l', place.volume]);
  }
});

onMemory(
  'demand above the declared budget is told when the fifth angle arrives, and over when an angle goes',
  async () => {
    const names = ['a', 'b', 'c', 'd', 'e'].map((camera) => `tidewater-${camera}.mov`);
    const footage = join(place.volume, 'Tidewater Sessions', 'Footage');
    mkdirSync(footage, { recursive: true });
    const daemon = await place.start(
      configuration('multicam = ["Tidewater Sessions"]\nspeed = { read = "530 kB/s", write = "530 kB/s" }'),
    );
    for (const name of names.slice(0, 4)) cpSync(join(media, name), join(footage, name));
    await until('four angles', () => daemon.status().projects[0]?.multicam[0]?.angles === 4);
    expect(daemon.status().volumes[0]?.speed).toMatchObject({ readBudgetBps: 371_000, basis: 'declared' });
    expect(raised(daemon)).toEqual([]);
    cpSync(join(media, 'tidewater-e.mov'), join(footage, 'tidewater-e.mov'));
    await until('it is told', () => raised(daemon).join() === 'speed-overrun warning', 20);
    const [advisory] = daemon.status().advisories;
    expect(advisory?.message).toMatch(/5 angles of Tidewater Sessions at once/);
    expect(advisory?.remedies[0]?.action).toMatch(/Play 4 of the 5 angles at once/);
    expect(advisory?.remedies[0]?.effect).toMatch(/MB\/s of 0\.37\d? MB\/s/);
    rmSync(join(footage, 'tidewater-a.mov'));
    await until('it is over', () => raised(daemon).length === 0, 20);
    expect(announcements(daemon)).toEqual(['speed-overrun first', 'speed-overrun cleared']);
    const left = names
      .slice(1)
      .map((name) => statSync(join(media, name)).size)
      .reduce((a, b) => a + b);
    expect(daemon.status().projects[0]?.bytes).toBe(left);
  },
);

onMemory(
  'cameras that ran together are a notice, a warning while their files are read together, and neither with proxies',
  async () => {
    const cameras = ['a', 'b', 'c', 'd', 'e'];
    const project = join(place.volume, 'Tidewater Sessions');
    mkdirSync(join(project, 'Footage'), { recursive: true });
    mkdirSync(join(project, 'Proxy'));
    const daemon = await place.start(configuration('speed = { read = "530 kB/s", write = "530 kB/s" }'));
    for (const camera of cameras)
      cpSync(join(media, `tidewater-${camera}.mov`), join(project, 'Footage', `tidewater-${camera}.mov`));
    await until('it is a notice', () => raised(daemon).join() === 'speed-overrun notice', 20);
    expect(daemon.status().advisories[0]?.message).toMatch(/Nothing to do unless it is cut as multicam\.$/);

    const [one, other] = [join(project, 'Footage', 'tidewater-a.mov'), join(project, 'Footage', 'tidewater-b.mov')];
    // Two angles at once, a little further with each step, from the beginning again at the end.
    const player = spawn(process.execPath, [
      '-e',
      `const fs = require('fs'); const fds = process.argv.slice(1).map((file) => fs.openSync(file)); const b = Buffer.alloc(3000);
     let at = 0; setInterval(() => { for (const fd of fds) if (fs.readSync(fd, b) === 0) process.exit(); }, 500)`,
      one,
      other,
    ]);
    try {
      await until('it is a warning', () => raised(daemon).join() === 'speed-overrun warning', 40);
      expect(daemon.status().advisories[0]?.message).toMatch(
        /Its files are being read together now\. Expect dropped frames\.$/,
      );
    } finally {
      player.kill('SIGKILL');
    }
    for (const camera of cameras) {
      const made = ['-vf', 'scale=160:-2', '-c:v', 'libx264', '-b:v', '20k', '-an'];
      const from = join(media, `tidewater-${camera}.mov`);
      execFileSync('ffmpeg', [
        '-v',
        'error',
        '-i',
        from,
        ...made,
        join(project, 'Proxy', `tidewater-${camera}_Proxy.mov`),
      ]);
    }
    await until('it is over', () => raised(daemon).length === 0, 40);
    expect(announcements(daemon).at(-1)).toBe('speed-overrun cleared');
  },
);

onMemory('a volume that takes no writes any more is told, and over when it does', async () => {
  mkdirSync(join(place.volume, 'Saltmarsh', 'Footage'), { recursive: true });
  const daemon = await place.start(configuration(''));
  await until('its room is known', () => (daemon.status().volumes[0]?.capacity.totalBytes ?? 0) > 0);
  expect(raised(daemon)).toEqual([]);
  execFileSync('mount', ['-o', 'remount,ro', place.volume]);
  await until('it is told', () => raised(daemon).join() === 'volume-read-only critical', 60);
  expect(daemon.status().advisories[0]?.message).toContain('stripe at ');
  expect(daemon.status().advisories[0]?.remedies[0]?.action).toContain('while it can be read');
  execFileSync('mount', ['-o', 'remount,rw', place.volume]);
  await until('it is over', () => raised(daemon).length === 0, 90);
});
