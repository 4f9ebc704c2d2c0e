import { spawnSync } from 'node:child_process';
import { chmodSync, copyFileSync, mkdirSync, readFileSync, statSync, symlinkSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect } from 'vitest';
import { type ClipJson, media, program, until } from '../headroomd.ts';
import { asUnprivileged, trap, whyNot } from './abilities.ts';
import { bytesBelow, type Daemon, type Ground, ground } from './ground.ts';

/**
 * Names of any bytes, links, and what may not be read. The daemon runs as a user without special rights, to whom the
 * footage does not belong, where the machine lets it.
 */
let place: Ground;
let daemon: Daemon;

const source = join(media, 'tidewater-a.mov');
const { size } = statSync(source);

function project(name: string): string {
  const folder = join(place.folder, 'stripe', name);
  mkdirSync(folder, { recursive: true });
  return folder;
}

/** A name as bytes: what is no UTF-8 cannot be written as text. */
const raw = (folder: string, name: string | number[]): Buffer =>
  Buffer.concat([Buffer.from(`${folder}/`), typeof name === 'string' ? Buffer.from(name) : Buffer.from(name)]);

/** One name in the two forms of Unicode, which look alike and are two names to the file system. */
const COMPOSED = 'Caf\u00e9 Interior'.normalize('NFC');
const DECOMPOSED = COMPOSED.normalize('NFD');

const notUtf8 = (end: string): number[] => [0x41, 0xff, 0xfe, ...Buffer.from(end)];

const oddNames = (end: string): (string | number[])[] => [
  `two\nlines${end}`,
  `-rf${end}`,
  `--${end}`,
  `${COMPOSED}${end}`,
  `${DECOMPOSED}${end}`,
  `bell\u0007 and \u001b[31mred${end}`,
  `right to left \u202e${end}`,
  ` blank ${end}`,
  `back\\slash${end}`,
  notUtf8(end),
];

/** As `clips --json` writes them: what is no UTF-8 as `\xNN`. */
const told = (name: string | number[]) =>
  typeof name === 'string'
    ? name
    : `A\\xff\\xfe${name
        .slice(3)
        .map((byte) => String.fromCharCode(byte))
        .join('')}`;

const pathsOf = (clips: readonly ClipJson[]) => clips.flatMap(({ paths }) => paths).sort();

beforeAll(async () => {
  place = ground();
  const stripe = join(place.folder, 'stripe');
  mkdirSync(stripe);
  // Some of each kind are there before the daemon is; the rest comes while it watches.
  for (const name of oddNames('.mov').slice(0, 5)) copyFileSync(source, raw(project('Odd Files'), name));
  mkdirSync(raw(project('Odd Folders'), notUtf8(' early')));
  copyFileSync(source, Buffer.concat([raw(project('Odd Folders'), notUtf8(' early')), Buffer.from('/A001.mov')]));
  const closed = join(project('Closed'), 'locked folder');
  mkdirSync(closed);
  copyFileSync(source, join(closed, 'inside.mov'));
  chmodSync(closed, 0o000);
  copyFileSync(source, join(project('Closed'), 'locked.mov'));
  chmodSync(join(project('Closed'), 'locked.mov'), 0o000);
  copyFileSync(source, join(project('Closed'), 'open.mov'));
  daemon = await place.start({
    volumes: { stripe },
    arrivals: ['sweep_every = "2 s"'],
    through: whyNot('unprivileged') === null ? asUnprivileged() : [],
  });
});
afterAll(() => place.clear());

trap('files of any name are clips, each by itself', [], async () => {
  const folder = project('Odd Files');
  for (const name of oddNames('.mov').slice(5)) copyFileSync(source, raw(folder, name));
  const expected = oddNames('.mov')
    .map((name) => `Odd Files/${told(name)}`)
    .sort();
  await until('all are clips', () => daemon.clips('Odd Files').length === expected.length, 20);
  expect(pathsOf(daemon.clips('Odd Files'))).toEqual(expected);
  await until('all count', () => daemon.project('Odd Files')?.bytes === expected.length * size, 20);
});

trap('in folders of any name nothing is lost, at the start and later', [], async () => {
  const folder = project('Odd Folders');
  for (const name of oddNames(' late')) {
    mkdirSync(raw(folder, name));
    copyFileSync(source, Buffer.concat([raw(folder, name), Buffer.from('/A001.mov')]));
  }
  const expected = [...oddNames(' late'), notUtf8(' early')].map((name) => `Odd Folders/${told(name)}/A001.mov`).sort();
  await until('all are clips', () => daemon.clips('Odd Folders').length === expected.length, 25);
  expect(pathsOf(daemon.clips('Odd Folders'))).toEqual(expected);
  await until('all count', () => daemon.project('Odd Folders')?.bytes === expected.length * size, 20);
  // No event tells of what comes into a folder whose name is no text: the passes find it.
  copyFileSync(source, Buffer.concat([raw(folder, notUtf8(' early')), Buffer.from('/A002.mov')]));
  const later = `Odd Folders/${told(notUtf8(' early'))}/A002.mov`;
  await until('one that came later', () => pathsOf(daemon.clips('Odd Folders')).includes(later), 20);
});

trap('no name reaches a terminal or the log as it is', [], async () => {
  copyFileSync(source, raw(project('Shown'), 'line\nbreak \u001b[31m\u0007.mov'));
  copyFileSync(source, raw(project('Shown'), notUtf8('.mov')));
  await until('both are clips', () => daemon.clips('Shown').length === 2, 20);
  const state = join(daemon.place, 'state');
  for (const args of [['status'], ['clips'], ['clips', '--json'], ['clips', '--project', 'Shown']]) {
    const { stdout } = spawnSync(program, [...args, '--state', state], { encoding: 'buffer' });
    expect(stdout.length).toBeGreaterThan(100);
    const text = stdout.toString('utf8');
    expect(Buffer.from(text).equals(stdout), `${args.join(' ')}: is UTF-8`).toBe(true);
    expect(
      [...text].filter((character) => /[\p{Cc}\u202e\uF780-\uF7FF]/u.test(character) && character !== '\n'),
    ).toEqual([]);
  }
  const log = readFileSync(join(daemon.place, 'log 1'), 'utf8');
  expect([...log].filter((character) => /\p{Cc}/u.test(character) && character !== '\n')).toEqual([]);
});

trap('names with a tilde at their end, and swap files of editors, are counted', [], async () => {
  const folder = project('Leftovers');
  const names = ['notes.txt~', '.notes.txt.swp', '.A001.mov.swp', 'A002.mov~', '.hidden.mov'];
  for (const name of names) copyFileSync(source, join(folder, name));
  await until('all count', () => daemon.project('Leftovers')?.bytes === names.length * size, 20);
  expect(bytesBelow(folder)).toBe(names.length * size);
  await until('the one that is footage is a clip', () => daemon.clips('Leftovers').length === 1, 20);
  const waiting = () => daemon.arrivals('Leftovers').filter(({ reason }) => reason === 'waits-for-rename');
  await until('one waits for its name', () => waiting().length === 1, 20);
  expect(waiting()[0]?.path).toBe('Leftovers/A002.mov~');
});

trap('links in a circle and links out of the volume are not followed', [], async () => {
  const folder = project('Links');
  const outside = join(place.folder, 'outside');
  mkdirSync(outside);
  copyFileSync(source, join(outside, 'B001.mov'));
  symlinkSync('.', join(folder, 'here'));
  symlinkSync('..', join(folder, 'up'));
  symlinkSync('loop', join(folder, 'loop'));
  symlinkSync(outside, join(folder, 'outside'));
  symlinkSync(join(outside, 'B001.mov'), join(folder, 'B001.mov'));
  symlinkSync('nowhere', join(folder, 'nothing.mov'));
  copyFileSync(source, join(folder, 'A001.mov'));
  await until('the one real file is a clip', () => daemon.clips('Links').length > 0, 20);
  // What is written behind the links is nobody's.
  copyFileSync(source, join(outside, 'B002.mov'));
  await new Promise((resolve) => setTimeout(resolve, 5000));
  expect(pathsOf(daemon.clips('Links'))).toEqual(['Links/A001.mov']);
  expect(daemon.project('Links')?.bytes).toBe(size);
  expect(daemon.arrivals('Links').filter(({ path }) => path !== 'Links/A001.mov')).toEqual([]);
  expect(
    daemon
      .log()
      .filter(({ level }) => level >= 40)
      .map(({ msg }) => msg)
      .join(),
  ).not.toMatch(/ELOOP|Links/);
});

trap(
  'a folder and a file without rights are named, their neighbours go on, and both are read once they may be',
  ['unprivileged'],
  async () => {
    const folder = project('Closed');
    const unreadable = () => daemon.arrivals('Closed').filter(({ reason }) => reason === 'unreadable');
    await until('the neighbour is a clip', () => daemon.clips('Closed').length === 1, 20);
    await until('both are named', () => unreadable().length === 2, 20);
    expect(
      unreadable()
        .map(({ path }) => path)
        .sort(),
    ).toEqual(['Closed/locked folder', 'Closed/locked.mov']);
    expect(
      unreadable()
        .map(({ detail }) => detail ?? '')
        .filter((detail) => !detail.includes('EACCES')),
    ).toEqual([]);
    // A file that may not be read still takes room.
    expect(daemon.project('Closed')?.bytes).toBe(2 * size);
    expect(readFileSync(`/proc/${daemon.child.pid}/status`, 'utf8')).toContain('CapEff:\t0000000000000000');
    chmodSync(join(folder, 'locked folder'), 0o755);
    chmodSync(join(folder, 'locked.mov'), 0o644);
    await until('all are clips', () => daemon.clips('Closed').length === 3, 20);
    await until('nothing is left to say', () => unreadable().length === 0, 20);
    expect(pathsOf(daemon.clips('Closed'))).toEqual([
      'Closed/locked folder/inside.mov',
      'Closed/locked.mov',
      'Closed/open.mov',
    ]);
  },
);
