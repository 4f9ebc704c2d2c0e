import { cpSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, media, until } from './headroomd.ts';

let place: Bench;

beforeEach(() => {
  place = bench();
  mkdirSync(join(place.volume, 'Tidewater Sessions'), { recursive: true });
});
afterEach(() => place.clear());

test('a shoot is asked about: from the plan, with other cameras, and in the format of clips that are here', async () => {
  const config = join(place.folder, 'headroomd.toml');
  writeFileSync(
    config,
    `[[volume]]
name = "stripe"
path = "${place.volume}"
layout = { level = "5", members = 4, drive = "ssd" }

[[plan]]
project = "Tidewater Sessions"
days = ["2999-03-04", "2999-03-05"]
cameras = 5
format = "ProRes 422 HQ"
raster = "3840x2160"
rate = "25"
hours = 6
`,
  );
  const daemon = await place.start(['--config', config]);
  await until('the room is known', () => daemon.status().volumes[0]?.capacity.totalBytes !== null);
  const asJson = (...args: string[]) => JSON.parse(place.call('plan', '--json', ...args).stdout);
  const plan = asJson();
  expect(plan).toMatchObject({ volume: 'stripe', cameras: 5, rateFrom: 'published-most', basis: 'layout' });
  // Published target of one such camera: 737 Mb/s.
  expect(plan.bytesPerDay / ((737e6 / 8) * 5 * 6 * 3600)).toBeCloseTo(1, 2);
  expect(plan.bytesTotal).toBe(2 * plan.bytesPerDay);
  expect(plan.layouts[0]).toMatchObject({ level: '5', isNow: true, survives: 1 });
  expect(asJson('--cameras', '2').bytesPerDay / plan.bytesPerDay).toBeCloseTo(2 / 5, 6);

  cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Tidewater Sessions', 'tidewater-a.mov'));
  await until('the clip is ready', () => daemon.status().projects[0]?.clips === 1);
  await until('its rate is known', () => daemon.status().projects[0]?.formats[0]?.bitrateBps !== null);
  const own = asJson('--format', 'H.264', '--raster', '640x360');
  expect(own).toMatchObject({ rateFrom: 'own-project', rateClips: 1, rateBps: Math.round(163_792 / 3) });

  const told = place.call('plan');
  expect(told.status).toBe(0);
  expect(told.stdout).toMatch(/^Tidewater Sessions, on 2 days from 2999-03-04 to 2999-03-05: 5 cameras, /);
  expect(place.call('plan', 'Saltmarsh')).toMatchObject({
    status: 1,
    stderr: expect.stringMatching(/^headroomd: no shoot day to come is planned for Saltmarsh; there are plans for/),
  });
  expect(place.call('plan', '--rate', '25p').status).toBe(2);

  const whole = ['--format', 'H.264', '--raster', '640x360', '--rate', '25', '--cameras', '3', '--hours', '2'];
  const kept = place.call('plan', 'Lock Keepers', ...whole, '--days', '4', '--from', '2999-05-02', '--keep');
  expect(kept.stdout).toMatch(
    /^Kept: from now on it counts as planned, until "headroomd plan 'Lock Keepers' --forget"\.\n\nLock Keepers, on 4 days from 2999-05-02 to 2999-05-05: 3 cameras, H\.264/,
  );
  await daemon.end('SIGKILL');
  const next = await place.start(['--config', config]);
  expect(asJson('Lock Keepers')).toMatchObject({ cameras: 3, hours: 2, days: { length: 4 } });
  expect(place.call('plan', 'Lock Keepers', '--forget').stdout).toBe(
    'What was kept for Lock Keepers is no longer planned.\n',
  );
  expect(place.call('plan', 'Tidewater Sessions', '--forget').stdout).toBe(
    'Nothing was kept for Tidewater Sessions; the configuration still plans 2 days of it, from 2999-03-04 on.\n',
  );
  expect(place.call('plan', 'Lock Keepers').status).toBe(1);
  expect(place.call('plan', '--forget')).toMatchObject({
    status: 2,
    stderr: expect.stringMatching(/name the project/),
  });
  expect(place.call('plan', 'Lock Keepers', '--keep', '--forget').status).toBe(2);
  expect(place.call('plan', '--from', '2027-02-30').status).toBe(2);
  expect(await next.end()).toBe(0);
  expect(place.call('plan').status).toBe(3);
});
