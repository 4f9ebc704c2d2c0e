import { spawnSync } from 'node:child_process';
import { chmodSync, existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { userInfo } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { AdvisorySnapshot } from '../../src/core/present/snapshot.ts';
import { type Bench, bench, type Running, until } from './headroomd.ts';

/** A real advisory of a volume that really fills, what of it reaches a channel, and what a person says of it. */
let place: Bench;
let isMounted = false;

beforeEach(() => {
  place = bench();
  mkdirSync(place.volume, { recursive: true });
  isMounted = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=40M', 'tmpfs', place.volume]).status === 0;
  if (!isMounted) console.warn('NOT CHECKED: snoozing beside the real program, because mount is not permitted here');
});
afterEach(async () => {
  if (isMounted) spawnSync('umount', ['-l', place.volume]);
  await place.clear();
});

/** A volume of 40 MiB of which a quarter is to be kept free, and a channel that writes down what it is told. */
function configuration(): string {
  const file = join(place.folder, 'headroomd.toml');
  const tell = join(place.folder, 'tell');
  writeFileSync(tell, `#!/bin/sh\ncat >> "${place.folder}/told"\necho >> "${place.folder}/told"\n`);
  chmodSync(tell, 0o700);
  writeFileSync(
    file,
    `[thresholds]\nraise_after = "1 s"\nclear_after = "2 s"\n[cards]\nlook = false\n[[volume]]\nname = "stripe"\npath = "${place.volume}"\nreserve = "25%"\n[[notify]]\nkind = "command"\nname = "wall"\nseverity = "notice"\ncommand = ["${tell}"]\n`,
  );
  return file;
}

function fill(name: string, mebibytes: number): void {
  const to = join(place.volume, 'Saltmarsh', name);
  spawnSync('dd', ['if=/dev/zero', `of=${to}`, 'bs=1M', `count=${mebibytes}`], { stdio: 'ignore' });
}

interface Told {
  event: string;
  at: string;
  title: string;
  advisory: { kind: string; severity: string };
}

/** What the channel was told of the room on the volume. */
function told(): Told[] {
  const file = join(place.folder, 'told');
  if (!existsSync(file)) return [];
  const lines = readFileSync(file, 'utf8').split('\n');
  const whole = lines.filter((line) => line.endsWith('}')).map((line) => JSON.parse(line) as Told);
  return whole.filter(({ advisory }) => advisory.kind === 'capacity-reserve');
}

const events = () => told().map(({ event, advisory }) => `${event} ${advisory.severity}`);
const room = (daemon: Running) => daemon.status().advisories.find(({ kind }) => kind === 'capacity-reserve');
const flat = (text: string) => text.replace(/\s+/g, ' ');
const ms = (time: string | null | undefined) => Temporal.Instant.from(time ?? '').epochMilliseconds;

test('quiet holds over a kill, ends by time, gives way to worse, is lifted, and is gone with the advisory', async () => {
  if (!isMounted) return;
  mkdirSync(join(place.volume, 'Saltmarsh', 'Footage'), { recursive: true });
  const config = configuration();
  const first = await place.start(['--config', config]);
  fill('sound.bin', 33);
  await until('it is told', () => events().length === 1);
  const code = room(first)?.code ?? '';
  expect(flat(place.call('status').stdout)).toMatch(
    new RegExp(`WARNING stripe has .* \\(${code}, since \\d\\d:\\d\\d\\.\\)`),
  );
  expect(place.call('snooze').stdout).toBe('Nothing is snoozed: all that stands is told.\n');
  expect(place.call('snooze', 'stripe', '--for', '4h')).toMatchObject({
    status: 1,
    stderr: `headroomd: no advisory is called stripe; did you mean ${code} (capacity-reserve:stripe). Nothing was changed.\n`,
  });

  const said = place.call('snooze', code, '--for', '4h', '--reason', 'renders <move>\u001b[2J at noon');
  expect(said).toMatchObject({ status: 0, stderr: '' });
  const who = userInfo().username;
  expect(flat(said.stdout)).toMatch(
    new RegExp(
      `^Noted: warning stripe has .* Snoozed \\("renders <move>\\\\x1b\\[2J at noon", ${who}, .*\\): quiet until`,
    ),
  );
  await first.end('SIGKILL');

  const second = await place.start(['--config', config]);
  const quiet = room(second)?.snooze;
  expect(quiet).toMatchObject({
    known: false,
    saidBy: who,
    reason: 'renders <move>\\x1b[2J at noon',
    severity: 'warning',
  });
  const screen = flat(place.call('status').stdout);
  expect(screen).toContain('Nothing new to warn of. 1 snoozed: warning stripe has');
  expect(screen).not.toContain('WARNING');
  const [listed] = JSON.parse(place.call('snooze', '--json').stdout) as AdvisorySnapshot[];
  expect(listed).toMatchObject({ code, id: 'capacity-reserve:stripe', snooze: quiet });
  expect(events()).toEqual(['first warning']);
  // Said anew, for a moment: the last that was said counts.
  const [brief] = JSON.parse(place.call('snooze', code, '--for', '3s', '--json').stdout) as AdvisorySnapshot[];
  await until('the time is over, and it is told again', () => events().length === 2, 60);
  expect(events()).toEqual(['first warning', 'reminder warning']);
  const [, again] = told();
  expect(ms(again?.at)).toBeGreaterThanOrEqual(ms(brief?.snooze?.until));
  expect(again?.title).toMatch(/^Still warning after \d+ (s|min): stripe has /);
  expect(room(second)?.snooze).toBeNull();

  // Known, until it gets worse.
  expect(place.call('snooze', code, '--known', '--reason', 'renders move').status).toBe(0);
  expect(flat(place.call('status').stdout)).toContain('1 known: warning stripe has');
  fill('more.bin', 6);
  fill('last.bin', 1);
  await until('it is critical, and told at once', () => events().length === 3, 60);
  expect(events().at(-1)).toBe('worse critical');
  expect(flat(place.call('status').stdout)).toContain('CRITICAL stripe has');

  // Critical: not longer than a day, whatever is asked.
  const critical = place.call('snooze', code.toUpperCase(), '--for', '3d');
  expect(flat(critical.stdout)).toMatch(
    /Snoozed \(.*\): comes back at \d{4}-\d\d-\d\d \d\d:\d\d because it is critical\. $/,
  );
  const day = ms(room(second)?.snooze?.until) - ms(room(second)?.snooze?.saidAt);
  expect(day).toBe(86_400_000);
  expect(place.call('snooze', code, '--lift').stdout).toMatch(/^Told again:\n {2}stripe has /);
  await until('it is told again', () => events().length === 4);
  expect(events().at(-1)).toBe('reminder critical');
  expect(place.call('snooze', code, '--lift')).toMatchObject({
    status: 1,
    stderr: `headroomd: ${code} is not snoozed. Nothing was changed.\n`,
  });

  // What is over takes the quiet along.
  expect(place.call('snooze', code, '--known', '--reason', 'renders move').status).toBe(0);
  for (const name of ['sound.bin', 'more.bin', 'last.bin'])
    rmSync(join(place.volume, 'Saltmarsh', name), { force: true });
  await until('it is over', () => events().length === 5, 60);
  expect(events().at(-1)).toBe('cleared critical');
  expect(place.call('snooze').stdout).toBe('Nothing is snoozed: all that stands is told.\n');
  fill('sound.bin', 33);
  await until('it is told as new', () => events().length === 6, 60);
  expect(events().at(-1)).toBe('first warning');
  expect(await second.end()).toBe(0);
}, 300_000);
