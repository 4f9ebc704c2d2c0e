import { cpSync, mkdirSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, media, until } from './headroomd.ts';

let place: Bench;
beforeEach(() => {
  place = bench();
  mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
  cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Saltmarsh', 'A001.mov'));
});
afterEach(() => place.clear());

test('a sweep reads every folder, says so when it is through, and why it could not be', async () => {
  const daemon = await place.start();
  await until('the clip is ready', () => daemon.status().projects[0]?.clips === 1);
  expect(place.call('sweep').stdout).toBe(
    'Begun: every folder of stripe is read again. What is new is taken in as it is found.\n',
  );
  expect(place.call('sweep', place.volume, '--wait')).toEqual({
    status: 0,
    stdout: expect.stringMatching(/^stripe: every folder was read, in .* s\.\n$/),
    stderr: '',
  });
  expect(JSON.parse(place.call('sweep', 'stripe', '--wait', '--json').stdout)).toMatchObject([
    { volume: 'stripe', why: null },
  ]);
  expect(daemon.status().projects[0]?.clips).toBe(1);
  expect(place.call('sweep', 'shelf-a')).toMatchObject({
    status: 1,
    stderr: 'headroomd: there is no volume shelf-a; there are stripe.\n',
  });

  renameSync(place.volume, `${place.volume}-away`);
  await until('it is away', () => daemon.status().volumes[0]?.state === 'unknown');
  const away = place.call('sweep', '--wait');
  expect([away.status, away.stdout]).toEqual([1, expect.stringMatching(/^stripe: not every folder was read: /)]);
  expect(daemon.status().projects[0]?.clips).toBe(1);
  await daemon.end();
  expect(place.call('sweep').status).toBe(3);
});
