import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { exitCodes } from '../../src/cli/exit-codes.ts';

// The outside opinion of units is systemd's own: systemd-analyze(1).

const installer = join(import.meta.dirname, '../../systemd/install.sh');

let folder: string;
let stripe: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-units-'));
  stripe = join(folder, 'stripe');
  for (const name of [stripe, join(folder, 'run')]) mkdirSync(name, { mode: 0o700 });
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const config = () => join(folder, 'my config');
const userUnit = () => join(config(), 'systemd/user/headroomd.service');
const systemUnit = () => join(folder, 'units/headroomd-system.service');

/** In a home of its own, and without any service manager in reach. */
function run(command: string, ...args: string[]) {
  const env = {
    ...{ PATH: process.env['PATH'], HOME: folder, XDG_CONFIG_HOME: config(), XDG_RUNTIME_DIR: join(folder, 'run') },
    ...{ HEADROOMD_UNITS: join(folder, 'units'), HEADROOMD_ETC: join(folder, 'etc'), SYSTEMD_PAGER: '' },
    DBUS_SYSTEM_BUS_ADDRESS: `unix:path=${join(folder, 'no-bus')}`,
  };
  const { status, stdout, stderr } = spawnSync(command, args, { encoding: 'utf8', env });
  return { status, said: stdout + stderr };
}

const settingOf = (unit: string, name: string) =>
  new RegExp(`^${name}=(.*)$`, 'm').exec(readFileSync(unit, 'utf8'))?.[1];

test('for a user: one command writes configuration and unit, systemd takes the unit, and one command removes it', () => {
  expect(run(installer, stripe)).toMatchObject({ status: 0 });
  expect(readFileSync(join(config(), 'headroomd/headroomd.toml'), 'utf8')).toContain(`path = "${stripe}"`);
  expect(run('systemd-analyze', 'verify', '--user', '--man=no', userUnit())).toEqual({ status: 0, said: '' });

  writeFileSync(join(config(), 'headroomd/headroomd.toml'), `[[volume]]\nname = "mine"\npath = "${stripe}"\n`);
  const again = run(installer, stripe);
  expect(again).toMatchObject({ status: 0, said: expect.stringContaining('is there already') });
  expect(readFileSync(join(config(), 'headroomd/headroomd.toml'), 'utf8')).toContain('name = "mine"');

  expect(run(installer, '--remove')).toMatchObject({ status: 0 });
  expect(existsSync(userUnit())).toBe(false);
  expect(readdirSync(join(config(), 'headroomd'))).toContain('headroomd.toml');
});

test('for the machine: systemd takes the unit, and finds it shut as far as it can be', () => {
  expect(run(installer, '--system', '--shelf', '/media/shelf a', stripe)).toMatchObject({ status: 0 });
  expect(run('systemd-analyze', 'verify', '--man=no', systemUnit())).toEqual({ status: 0, said: '' });
  expect(readFileSync(`${systemUnit()}.d/shelves.conf`, 'utf8')).toBe('[Service]\nReadWritePaths="-/media/shelf a"\n');
  // Tenths: the worst would be 100.
  const judged = run('systemd-analyze', 'security', '--offline=true', '--threshold=15', systemUnit());
  expect(judged.said).toMatch(/Overall exposure level for headroomd-system\.service: \d\.\d/);
  expect(judged.status).toBe(0);
  expect(run(installer, '--system', '--remove')).toMatchObject({ status: 0 });
  expect(readdirSync(join(folder, 'units'))).toEqual([]);
});

test('what cannot be installed is refused with what to do, and nothing is written', () => {
  writeFileSync(join(folder, 'file'), '');
  const refusals: [string[], RegExp][] = [
    [[], /name the folder to watch/],
    [[join(folder, 'nowhere')], /is no folder/],
    [['--shelf', '/media/shelf-a', stripe], /--shelf is for --system/],
    [['--system', '--shelf', '/media/50%'], /has characters/],
    [['--nonsense'], /--upgrade/],
  ];
  for (const [args, why] of refusals) {
    const { status, said } = run(installer, ...args);
    expect(said).toMatch(why);
    expect(status).not.toBe(0);
  }
  expect([existsSync(userUnit()), existsSync(systemUnit())]).toEqual([false, false]);
});

test('a configuration with problems is not installed over what runs', () => {
  mkdirSync(join(config(), 'headroomd'), { recursive: true });
  writeFileSync(join(config(), 'headroomd/headroomd.toml'), 'nonsense = 1\n');
  const { status, said } = run(installer);
  expect(status).toBe(exitCodes.badConfiguration);
  expect(said).toContain('headroomd.toml:1:1');
  expect(existsSync(userUnit())).toBe(false);
});

test('what would end the same again is not started again', () => {
  const ends = [exitCodes.usage, exitCodes.badConfiguration, exitCodes.stateLocked].join(' ');
  for (const name of ['headroomd', 'headroomd-system']) {
    const unit = join(import.meta.dirname, `../../systemd/${name}.service`);
    expect(settingOf(unit, 'RestartPreventExitStatus')).toBe(ends);
    expect(settingOf(unit, 'Restart')).toBe('on-failure');
    expect([settingOf(unit, 'Type'), settingOf(unit, 'WatchdogSec')]).toEqual(['notify', '3min']);
  }
});
