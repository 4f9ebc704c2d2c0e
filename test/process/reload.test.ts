import { cpSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

let place: Bench;
beforeEach(() => {
  place = bench();
  for (const volume of ['stripe', 'second']) {
    mkdirSync(join(place.folder, volume, 'Saltmarsh'), { recursive: true });
    cpSync(join(media, 'tidewater-a.mov'), join(place.folder, volume, 'Saltmarsh', `${volume}.mov`));
  }
});
afterEach(() => place.clear());

const TIMES = '[thresholds]\nraise_after = "1 s"\n[cards]\nlook = false\n[page]\nenabled = false\n';

/** Of these volumes, and whatever else is to stand in it. */
function configuration(volumes: readonly string[], more = ''): string {
  const file = join(place.folder, 'headroomd.toml');
  const tables = volumes.map((name) => `[[volume]]\nname = "${name}"\npath = "${join(place.folder, name)}"\n`);
  writeFileSync(file, `${TIMES}${tables.join('')}${more}`);
  return file;
}

const told = (daemon: Running, event: string) => daemon.log().split(`"event":"${event}"`).length - 1;
/** Of the volume that is away: another machine may have more to tell of. */
const toldAway = (daemon: Running) => daemon.log().split('"advisory":"volume-absent:away","event":"first"').length - 1;
const awaySince = (daemon: Running) =>
  daemon.status().advisories.flatMap(({ kind, id, since }) => (kind === 'volume-absent' ? [{ id, since }] : []));
const files = (daemon: Running) =>
  daemon
    .clips('Saltmarsh')
    .map(({ volume }) => volume)
    .sort();

test('a volume is added by SIGHUP in the same process; what was known stays, and nothing is told twice', async () => {
  // One that is not there stands as an advisory meanwhile.
  const daemon = await place.start(['--config', configuration(['stripe', 'away'])]);
  await until('the clip is read', () => files(daemon).length === 1);
  await until('the advisory is told', () => toldAway(daemon) === 1);
  const before = awaySince(daemon);
  expect(before).toHaveLength(1);

  configuration(['stripe', 'away', 'second']);
  daemon.child.kill('SIGHUP');
  await until('it is in force', () => told(daemon, 'reloaded') === 1);
  await until('the clip of the new volume is read', () => files(daemon).length === 2);
  expect(files(daemon)).toEqual(['second', 'stripe']);
  // Long enough for an advisory to be told, were it taken for a new one.
  await sleep(4_000);
  expect(daemon.status().volumes.map(({ name, state }) => [name, state])).toEqual([
    ['stripe', 'live'],
    ['away', 'unknown'],
    ['second', 'live'],
  ]);
  expect(awaySince(daemon)).toEqual(before);
  expect([toldAway(daemon), told(daemon, 'clip-ready'), told(daemon, 'gone')]).toEqual([1, 2, 0]);

  configuration(['stripe']);
  daemon.child.kill('SIGHUP');
  await until('a volume is taken out', () => daemon.status().volumes.length === 1);
  expect(await daemon.end('SIGTERM')).toBe(0);
});

test('a file with problems changes nothing: the log names each with its line, and what runs is not even interrupted', async () => {
  const daemon = await place.start(['--config', configuration(['stripe'])]);
  await until('the clip is read', () => files(daemon).length === 1);
  const root = () => readdirSync(`/proc/${daemon.child.pid}/task`).length;
  const threads = root();
  const refused = async (more: string) => {
    const before = told(daemon, 'reload-kept');
    configuration(['stripe', 'second'], more);
    daemon.child.kill('SIGHUP');
    await until('it is refused', () => told(daemon, 'reload-kept') === before + 1);
  };

  await refused('reserve = "much"\nnonsense = 1\n');
  const log = daemon.log();
  expect(log).toMatch(/headroomd\.toml:\d+:\d+ {2}volume\[1\]\.reserve: expected/);
  expect(log).toMatch(/headroomd\.toml:\d+:\d+ {2}volume\[1\]\.nonsense: expected/);

  // Well written, and of no use all the same.
  await refused('[[notify]]\nkind = "webhook"\nurl = "https://example.org/x"\nsecret_file = "/nowhere/secret"\n');
  expect(daemon.log()).toMatch(/\/nowhere\/secret cannot be used/);
  await refused(`[[volume]]\nname = "around"\npath = "${place.state}"\n`);
  expect(daemon.log()).toContain('lies in the watched folder');

  expect(daemon.status().volumes.map(({ name, state }) => [name, state])).toEqual([['stripe', 'live']]);
  expect([told(daemon, 'reloaded'), told(daemon, 'started'), root()]).toEqual([0, 1, threads]);
});

test('reloaded again and again it keeps no threads, files or processes of before', async () => {
  const daemon = await place.start(['--config', configuration(['stripe'])]);
  const counts = () => ['task', 'fd'].map((kind) => readdirSync(`/proc/${daemon.child.pid}/${kind}`).length);
  const reload = async (times: number) => {
    daemon.child.kill('SIGHUP');
    await until('it is in force', () => told(daemon, 'reloaded') === times);
    await until('the clip is known', () => files(daemon).length === 1);
    await until('it is live', () => daemon.status().volumes[0]?.state === 'live');
  };
  await reload(1);
  await sleep(1_000);
  const [threads = 0, descriptors = 0] = counts();
  for (let times = 2; times <= 4; times++) await reload(times);
  await sleep(1_000);
  const [threadsNow = 0, descriptorsNow = 0] = counts();
  expect(threadsNow).toBeLessThanOrEqual(threads + 2);
  expect(descriptorsNow).toBeLessThanOrEqual(descriptors + 4);
  expect(await daemon.end('SIGTERM')).toBe(0);
});
