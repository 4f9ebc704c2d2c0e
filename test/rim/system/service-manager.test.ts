import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { openServiceManager } from '../../../src/rim/system/service-manager.ts';
import { type ServiceSocket, serviceSocket } from './service-socket.ts';

let folder: string;
let socket: ServiceSocket;
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-service-'));
  socket = await serviceSocket(folder);
});
afterEach(() => {
  socket.close();
  rmSync(folder, { recursive: true, force: true });
});

const environment = (more: Record<string, string> = {}): NodeJS.ProcessEnv => ({
  ...{ PATH: process.env['PATH'], NOTIFY_SOCKET: socket.path },
  ...more,
});

const noTrouble = (why: string) => {
  throw new Error(why);
};

test('what is said arrives in order, together as it was said, on a real datagram socket', async () => {
  const port = openServiceManager(environment(), process.pid, noTrouble);
  port?.say(['READY=1', 'STATUS=Watching "stripe" (live), * $HOME `id` \\n 100%.']);
  port?.say(['WATCHDOG=1']);
  port?.say(['STATUS=one\nline\tonly']);
  await port?.close();
  expect(socket.told().map(({ assignments }) => assignments)).toEqual([
    ['READY=1', 'STATUS=Watching "stripe" (live), * $HOME `id` \\n 100%.'],
    ['WATCHDOG=1'],
    ['STATUS=one line only'],
  ]);
});

test('it comes from the process that speaks for us, so the unit has to take it from all of ours', async () => {
  const port = openServiceManager(environment(), process.pid, noTrouble);
  port?.say(['READY=1']);
  await port?.close();
  expect(socket.told().map(({ pid }) => pid === process.pid)).toEqual([false]);
  for (const unit of ['headroomd.service', 'headroomd-system.service'])
    expect(readFileSync(join(import.meta.dirname, '../../../systemd', unit), 'utf8')).toMatch(/^NotifyAccess=all$/m);
});

test('how often it wants to hear is in microseconds, and meant for the process that is named', async () => {
  const watchdog = (more: Record<string, string>) =>
    openServiceManager(environment(more), process.pid, noTrouble)?.watchdogMs;
  expect(watchdog({ WATCHDOG_USEC: '180000000' })).toBe(180_000);
  expect(watchdog({ WATCHDOG_USEC: '180000000', WATCHDOG_PID: `${process.pid}` })).toBe(180_000);
  expect(watchdog({ WATCHDOG_USEC: '180000000', WATCHDOG_PID: '1' })).toBeNull();
  expect(watchdog({ WATCHDOG_USEC: '0' })).toBeNull();
  expect(watchdog({ WATCHDOG_USEC: 'often' })).toBeNull();
  expect(watchdog({})).toBeNull();
});

test('no program that is started later can speak for us, and without a service manager nothing is there', () => {
  const env = environment({ WATCHDOG_USEC: '1', WATCHDOG_PID: '1' });
  openServiceManager(env, process.pid, noTrouble);
  expect(Object.keys(env)).toEqual(['PATH']);
  expect(openServiceManager({ PATH: '/usr/bin' }, process.pid, noTrouble)).toBeNull();
  expect(openServiceManager({ NOTIFY_SOCKET: '' }, process.pid, noTrouble)).toBeNull();
});

test('that systemd-notify is not there is told once, and costs nothing else', async () => {
  const heard: string[] = [];
  const port = openServiceManager(environment({ PATH: folder }), process.pid, (why) => heard.push(why));
  port?.say(['READY=1']);
  port?.say(['WATCHDOG=1']);
  await port?.close();
  expect(heard).toHaveLength(1);
  expect(heard[0]).toMatch(/systemd-notify.*not found/);
  expect(socket.told()).toEqual([]);
});
