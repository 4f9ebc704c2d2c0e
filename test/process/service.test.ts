import { spawnSync } from 'node:child_process';
import { mkdirSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type ServiceSocket, serviceSocket } from '../rim/system/service-socket.ts';
import { configuration } from './asking.ts';
import { type Bench, bench, program, until } from './headroomd.ts';

let place: Bench;
let socket: ServiceSocket;
beforeEach(async () => {
  place = bench();
  mkdirSync(place.volume);
  socket = await serviceSocket(place.folder);
});
afterEach(async () => {
  await place.clear();
  socket.close();
});

const words = () => socket.told().flatMap(({ assignments }) => assignments);
const count = (word: string) => words().filter((one) => one === word).length;

test('the service manager hears when it is ready, that it lives, when it reads its configuration, and that it stops', async () => {
  const config = configuration(place, 'metrics = false');
  const daemon = await place.start(['--config', config], { NOTIFY_SOCKET: socket.path, WATCHDOG_USEC: '3000000' });
  await until('it is ready', () => count('READY=1') === 1);
  expect(words()).toContain('STATUS=Watching stripe (live).');
  await until('it gives signs of life', () => count('WATCHDOG=1') >= 3);

  daemon.child.kill('SIGHUP');
  await until('it is ready again', () => count('READY=1') === 2);
  expect(count('RELOADING=1')).toBe(1);

  expect(await daemon.end('SIGTERM')).toBe(0);
  expect(socket.told().at(-1)?.assignments).toEqual(['STOPPING=1', 'STATUS=Stopping.']);
});

test("in the folder that the service manager made for this run is a socket for the service's group, and gone after", async () => {
  const runtime = join(place.folder, 'runtime');
  mkdirSync(runtime);
  const daemon = await place.start([place.volume], { RUNTIME_DIRECTORY: `${runtime}:/nowhere` });
  const asked = spawnSync(program, ['status', '--json', '--state', runtime], { encoding: 'utf8' });
  expect(JSON.parse(asked.stdout).volumes[0].name).toBe('stripe');
  expect(readdirSync(runtime)).toEqual(['control.sock']);
  expect(statSync(join(runtime, 'control.sock')).mode & 0o777).toBe(0o660);
  expect(await daemon.end('SIGTERM')).toBe(0);
  expect(readdirSync(runtime)).toEqual([]);
});

test('a daemon whose main loop stands still gives no sign of life, and one again when it goes on', async () => {
  const config = configuration(place, 'metrics = false');
  const daemon = await place.start(['--config', config], { NOTIFY_SOCKET: socket.path, WATCHDOG_USEC: '3000000' });
  await until('it gives signs of life', () => count('WATCHDOG=1') >= 2);
  daemon.child.kill('SIGSTOP');
  // What it had said by then may still be on its way.
  await sleep(2_000);
  const before = count('WATCHDOG=1');
  await sleep(6_000);
  expect(count('WATCHDOG=1')).toBe(before);
  daemon.child.kill('SIGCONT');
  await until('it gives signs of life again', () => count('WATCHDOG=1') > before);
});
