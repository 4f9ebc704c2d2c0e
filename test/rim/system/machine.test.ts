import { execFileSync } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { machinePort } from '../../../src/rim/system/machine.ts';

let folder = '';
beforeEach(() => {
  folder = nodeFs.mkdtempSync(join(tmpdir(), 'headroomd-machine-'));
});
afterEach(() => nodeFs.rmSync(folder, { recursive: true, force: true }));

test('seconds since the start are those of the kernel (proc_uptime(5), beside its btime of proc_stat(5))', () => {
  const started = Number(/^btime (\d+)$/m.exec(nodeFs.readFileSync('/proc/stat', 'utf8'))?.[1]);
  const uptime = machinePort(nodeFs, folder).uptime() ?? Number.NaN;
  // btime is in whole seconds.
  expect(Math.abs(Date.now() / 1000 - uptime - started)).toBeLessThan(2);
});

test('the room is that of df, and what the folder takes that of du (coreutils)', async () => {
  nodeFs.writeFileSync(join(folder, 'catalogue.db'), Buffer.alloc(3_000_000, 1));
  nodeFs.writeFileSync(join(folder, 'ledger.db'), Buffer.alloc(10_000, 1));
  nodeFs.mkdirSync(join(folder, 'aside'));
  const room = await machinePort(nodeFs, folder).stateRoom();
  const number = (command: string, ...args: string[]) =>
    Number(/(\d+)\D*$/.exec(execFileSync(command, args, { encoding: 'utf8' }).split('\t')[0] ?? '')?.[1]);
  expect(Math.abs((room?.availableBytes ?? 0) - number('df', '-B1', '--output=avail', folder))).toBeLessThan(500e6);
  const files = ['catalogue.db', 'ledger.db'].map((name) => number('du', '-B1', join(folder, name)));
  expect([room?.path, room?.ownBytes]).toEqual([folder, files.reduce((sum, one) => sum + one, 0)]);
});

test('what cannot be asked is not known', async () => {
  expect(await machinePort(nodeFs, join(folder, 'gone')).stateRoom()).toBeNull();
  const broken = { ...nodeFs, readFileSync: () => 'no number' };
  expect(machinePort(broken as never, folder).uptime()).toBeNull();
  const none = {
    ...nodeFs,
    readFileSync: () => {
      throw new Error('ENOENT');
    },
  };
  expect(machinePort(none as never, folder).uptime()).toBeNull();
});
