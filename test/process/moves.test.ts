import { cpSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { effort } from '../effort.ts';
import { type Bench, bench, media, type Running, until } from './headroomd.ts';

/**
 * Moves on a real volume, with the real program: what is moved is the same clip, read once and never again; what is
 * deleted is told with its bytes. Each reading of a clip leaves a line in the log, so that none goes unseen.
 */
let place: Bench;

beforeEach(() => {
  place = bench();
  mkdirSync(join(place.volume, 'Saltmarsh'), { recursive: true });
});
afterEach(() => place.clear());

const CLIP = join(media, 'tidewater-a.mov');
const CLIP_BYTES = statSync(CLIP).size;
const frames = join(media, readdirSync(media).find((name) => statSync(join(media, name)).isDirectory()) ?? '');
const frameNames = readdirSync(frames);

const at = (...path: string[]) => join(place.volume, ...path);

function put(...path: string[]): void {
  mkdirSync(dirname(at(...path)), { recursive: true });
  cpSync(CLIP, at(...path));
}

function move(from: string, to: string): void {
  mkdirSync(dirname(at(to)), { recursive: true });
  renameSync(at(from), at(to));
}

function start(): Promise<Running> {
  const config = join(place.folder, 'headroomd.toml');
  writeFileSync(
    config,
    `[log]\nlevel = "debug"\n\n[[volume]]\nname = "stripe"\npath = "${place.volume}"\nprojects = "*"\n`,
  );
  return place.start(['--config', config]);
}

/** What it logged under one event, in order. */
function logged(daemon: Running, event: string): { msg: string; path?: string }[] {
  const lines = daemon
    .log()
    .split('\n')
    .filter((line) => line.includes(`"event":"${event}"`));
  return lines.map((line) => JSON.parse(line));
}

const said = (daemon: Running, event: string) => logged(daemon, event).map(({ msg }) => msg);
const paths = (daemon: Running) =>
  daemon
    .clips()
    .flatMap((clip) => clip.paths.slice(0, 1))
    .sort();

async function clips(daemon: Running, count: number): Promise<void> {
  await until(`${count} clips`, () => daemon.clips().length === count);
  await until('nothing arrives', () => daemon.status().arrivals.every(({ state }) => state === 'ready'));
}

const bytesOf = (daemon: Running) =>
  Object.fromEntries(
    daemon.status().projects.map(({ name, footageBytes, safety }) => [name, [footageBytes, safety.exposedBytes]]),
  );

test('a file and a folder of clips get other names', async () => {
  const daemon = await start();
  for (let clip = 10; clip < 40; clip++) put(`Saltmarsh/Day 1/A001/A001C0${clip}.mov`);
  writeFileSync(at('Saltmarsh/Day 1/A001/A001C010.xml'), '<take/>');
  await clips(daemon, 30);
  const before = bytesOf(daemon);
  const known = daemon.clips().map(({ paths: _, name: __, ...rest }) => rest);
  expect(logged(daemon, 'probe')).toHaveLength(30);

  move('Saltmarsh/Day 1/A001/A001C011.mov', 'Saltmarsh/Day 1/A001/first take.mov');
  await until('the file is told', () => said(daemon, 'moved').length === 1, 10);
  move('Saltmarsh/Day 1', 'Saltmarsh/Day 01');
  await until('the folder is told', () => said(daemon, 'moved').length === 2, 10);
  await sleep(3000);
  expect(said(daemon, 'moved')).toEqual([
    expect.stringMatching(
      /^Moved on stripe: Saltmarsh\/Day 1\/A001\/A001C011\.mov is now Saltmarsh\/Day 1\/A001\/first take\.mov \(1 file, /,
    ),
    expect.stringMatching(/^Moved on stripe: Saltmarsh\/Day 1 is now Saltmarsh\/Day 01 \(31 files, /),
  ]);
  expect(paths(daemon)).toHaveLength(30);
  expect(paths(daemon).every((path) => path.startsWith('Saltmarsh/Day 01/A001/'))).toBe(true);
  expect(daemon.clips().map(({ paths: _, name: __, ...rest }) => rest)).toEqual(known);
  expect(daemon.clips().find(({ name }) => name === 'A001C010.mov')?.paths).toHaveLength(2);
  expect(bytesOf(daemon)).toEqual(before);
  expect(logged(daemon, 'probe')).toHaveLength(30);
  expect(logged(daemon, 'clip-ready')).toHaveLength(30);
  expect(said(daemon, 'gone')).toEqual([]);
  expect(await daemon.end()).toBe(0);
});

test('a card and a sequence go from one project to another', async () => {
  const daemon = await start();
  for (const name of ['C0001', 'C0002', 'C0003']) {
    put(`Saltmarsh/Card/XDROOT/Clip/${name}.MXF`);
    writeFileSync(at(`Saltmarsh/Card/XDROOT/Clip/${name}M01.XML`), '<take/>');
  }
  cpSync(frames, at('Saltmarsh/scan'), { recursive: true });
  await clips(daemon, 4);
  const probes = logged(daemon, 'probe').length;
  const { Saltmarsh: before } = bytesOf(daemon);
  move('Saltmarsh/Card', 'Lock Keepers/Card');
  move('Saltmarsh/scan', 'Lock Keepers/Scans/reel 1');
  await until('both are told', () => said(daemon, 'moved').length === 2, 10);
  await until('its clips are there', () => daemon.clips('Lock Keepers').length === 4, 10);
  await until('its sums are there', () => bytesOf(daemon)['Lock Keepers'] !== undefined, 10);
  await sleep(2000);
  expect(bytesOf(daemon)).toEqual({ 'Lock Keepers': before });
  const sequence = daemon.clips().find(({ paths: [first = ''] }) => first.includes('reel 1'));
  expect(sequence).toMatchObject({ frames: frameNames.length, project: 'Lock Keepers', missingFrames: [] });
  expect(daemon.clips().find(({ name }) => name === 'C0001.MXF')?.paths).toHaveLength(2);
  expect(said(daemon, 'moved').join('\n')).toContain('Saltmarsh/Card is now Lock Keepers/Card (6 files');
  expect(said(daemon, 'moved').join('\n')).toContain('Saltmarsh/scan is now Lock Keepers/Scans/reel 1 (');
  expect(logged(daemon, 'probe')).toHaveLength(probes);
  expect(said(daemon, 'gone')).toEqual([]);
});

test.each(['SIGTERM', 'SIGKILL'] as const)(
  'moves, deletions and replacements while it is down (%s)',
  async (signal) => {
    const first = await start();
    for (const name of ['a', 'b', 'c', 'd']) put(`Saltmarsh/m/${name}.mov`);
    put('Saltmarsh/stays/e.mov');
    await clips(first, 5);
    await first.end(signal);
    move('Saltmarsh/m/a.mov', 'Saltmarsh/0/a.mov');
    move('Saltmarsh/m/b.mov', 'Saltmarsh/z/b.mov');
    rmSync(at('Saltmarsh/m/c.mov'));
    move('Saltmarsh/m/d.mov', 'Saltmarsh/z/d.mov');
    cpSync(join(media, 'tidewater-b.mov'), at('Saltmarsh/m/d.mov'));
    const daemon = await start();
    await until('the moves are told', () => said(daemon, 'moved').length >= 2, 15);
    await until('the loss is told', () => said(daemon, 'gone').length >= 1, 15);
    await clips(daemon, 5);
    expect(paths(daemon)).toEqual(
      ['0/a.mov', 'm/d.mov', 'stays/e.mov', 'z/b.mov', 'z/d.mov'].map((path) => `Saltmarsh/${path}`),
    );
    expect(logged(daemon, 'probe').map(({ path }) => path)).toEqual(['Saltmarsh/m/d.mov']);
    expect(logged(daemon, 'gone')).toMatchObject([
      { files: 1, bytes: CLIP_BYTES, msg: expect.stringContaining('Saltmarsh/m/c.mov') },
    ]);
    expect(said(daemon, 'moved')).toHaveLength(2);
    expect(await daemon.end()).toBe(0);
  },
);

test('another file in the old place at once; a real deletion, with its bytes', async () => {
  const daemon = await start();
  for (const name of ['a', 'b', 'c']) put(`Saltmarsh/${name}.mov`);
  await clips(daemon, 3);
  move('Saltmarsh/a.mov', 'Saltmarsh/moved.mov');
  cpSync(join(media, 'tidewater-b.mov'), at('Saltmarsh/a.mov'));
  await clips(daemon, 4);
  await until('the move is told', () => said(daemon, 'moved').length === 1, 10);
  expect(logged(daemon, 'probe').map(({ path }) => path)).toEqual([
    ...['a', 'b', 'c'].map(() => expect.stringMatching(/Saltmarsh\/[abc]\.mov/)),
    'Saltmarsh/a.mov',
  ]);
  expect(daemon.clips().find(({ name }) => name === 'moved.mov')?.reel).toBe('A001');
  rmSync(at('Saltmarsh/b.mov'));
  rmSync(at('Saltmarsh/c.mov'));
  await until('the loss is told', () => said(daemon, 'gone').length === 1, 10);
  await sleep(3000);
  expect(logged(daemon, 'gone')).toMatchObject([{ files: 2, bytes: 2 * CLIP_BYTES }]);
  await until('two are left', () => daemon.clips().length === 2, 5);
});

const kills = 5 * effort;

test(
  `killed ${kills} times while a folder moves to and fro: the same clips, none read again, nothing lost`,
  async () => {
    const first = await start();
    for (let clip = 10; clip < 30; clip++) put(`Saltmarsh/Day 1/A001C0${clip}.mov`);
    writeFileSync(at('Saltmarsh/Day 1/A001C010.xml'), '<take/>');
    await clips(first, 20);
    let daemon = first;
    const names = ['Saltmarsh/Day 1', 'Lock Keepers/Day 1'];
    for (let kill = 0; kill < kills; kill++) {
      move(names[kill % 2] ?? '', names[(kill + 1) % 2] ?? '');
      await sleep((kill * 337) % 1300);
      await daemon.end('SIGKILL');
      daemon = await start();
      await until('the volume is read', () => daemon.log().includes('"swept"'));
    }
    const now = names[kills % 2] ?? '';
    await until('all is where it is', () => paths(daemon).every((path) => path.startsWith(`${now}/`)), 15);
    await sleep(3000);
    expect(daemon.clips()).toHaveLength(20);
    expect(daemon.clips().find(({ name }) => name === 'A001C010.mov')?.paths).toHaveLength(2);
    const log = readdirSync(place.folder)
      .filter((name) => name.startsWith('log-'))
      .map((name) => readFileSync(join(place.folder, name), 'utf8'))
      .join('');
    expect(log.split('"event":"probe"')).toHaveLength(21);
    expect(log).not.toContain('"event":"gone"');
  },
  120_000 * effort,
);
