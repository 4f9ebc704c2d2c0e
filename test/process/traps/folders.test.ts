import { mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect } from 'vitest';
import { media, until } from '../headroomd.ts';
import { trap } from './abilities.ts';
import { bytesBelow, type Daemon, type Ground, ground } from './ground.ts';

/** What happens to whole folders, and to very many files at once. Each trap has a project of its own. */
let place: Ground;
let daemon: Daemon;

const clip = readFileSync(join(media, 'tidewater-a.mov'));
const CLIPS = 10;
const FILES = 1000;
const CARD_BYTES = CLIPS * clip.length + (FILES - CLIPS);
/** So many folders, each with so many files. */
const FLOOD_FOLDERS = 50;
const FLOOD = FLOOD_FOLDERS * FILES;
const OVERFLOW_FOLDERS = 20;
const waiting: [from: string, to: string][] = [];

const stripe = () => join(place.folder, 'stripe');
const shelf = () => join(place.folder, 'shelf-a');

/** A folder of 1,000 files, ten of them clips; the others are one byte each. */
function card(folder: string): void {
  mkdirSync(folder, { recursive: true });
  for (let file = 0; file < FILES; file += 1) {
    if (file < CLIPS) writeFileSync(join(folder, `A00${file}.mov`), clip);
    else writeFileSync(join(folder, `note ${file}.txt`), 'x');
  }
}

const bytes = (project: string) => daemon.project(project)?.bytes ?? 0;
const paths = (project: string) => daemon.clips(project).flatMap((each) => each.paths);
const lost = (project: string) => daemon.told('gone', `${project}/`).reduce((sum, { files = 0 }) => sum + files, 0);

async function arrived(project: string): Promise<void> {
  await until(`${project}: ten clips`, () => daemon.clips(project).length === CLIPS, 30);
  await until(`${project}: all bytes`, () => bytes(project) === CARD_BYTES, 30);
}

/** Files that wait outside for the moment at which nobody listens. */
function waitOutside(): void {
  for (let folder = 0; folder < OVERFLOW_FOLDERS; folder += 1) {
    const [outside, inside] = [join(place.folder, 'waiting', `${folder}`), join(shelf(), 'Overflow', `${folder}`)];
    for (const each of [outside, inside]) mkdirSync(each, { recursive: true });
    fill(outside);
    for (let file = 0; file < FILES; file += 1)
      waiting.push([join(outside, `${file}.txt`), join(inside, `${file}.txt`)]);
  }
}

function fill(folder: string): void {
  for (let file = 0; file < FILES; file += 1) writeFileSync(join(folder, `${file}.txt`), 'x');
}

beforeAll(async () => {
  place = ground();
  for (const name of ['Renamed', 'Moved Out']) card(join(stripe(), name, 'Card 001'));
  for (let folder = 0; folder < FLOOD_FOLDERS; folder += 1) {
    mkdirSync(join(stripe(), 'Into Known Folders', `${folder}`), { recursive: true });
  }
  waitOutside();
  mkdirSync(join(stripe(), 'Moved In'));
  daemon = await place.start({ volumes: { stripe: stripe(), 'shelf-a': shelf() } });
});
// Removing so many files takes its time on a busy disk.
afterAll(() => place.clear(), 300_000);

trap('a folder of 1,000 files moved in is there with all of them', [], async () => {
  const outside = join(place.folder, 'outside');
  card(outside);
  renameSync(outside, join(stripe(), 'Moved In', 'Card 001'));
  await arrived('Moved In');
  expect(new Set(daemon.told('clip-ready', '/Moved In/').map(({ file }) => file)).size).toBe(CLIPS);
});

trap('a folder of 1,000 files that gets another name is the same footage in another place', [], async () => {
  await arrived('Renamed');
  const read = () => daemon.told('probe', 'Renamed/').length;
  await sleep(2000);
  const before = read();
  expect(before).toBeGreaterThanOrEqual(CLIPS);
  const from = join(stripe(), 'Renamed', 'Card 001');
  renameSync(from, join(stripe(), 'Renamed', 'Card 001 Angle A'));
  const moved = () => paths('Renamed').filter((path) => path.startsWith('Renamed/Card 001 Angle A/')).length;
  await until('all clips are at the new place', () => moved() === CLIPS && paths('Renamed').length === CLIPS, 30);
  await until('all bytes are', () => bytes('Renamed') === CARD_BYTES, 30);
  // And it stays so when the passes come by. It is told as one move; nothing was lost, and nothing read again.
  await sleep(12_000);
  expect([paths('Renamed').length, bytes('Renamed'), lost('Renamed')]).toEqual([CLIPS, CARD_BYTES, 0]);
  expect(daemon.told('moved', 'Renamed/')).toMatchObject([{ files: FILES }]);
  expect(read()).toBe(before);
  writeFileSync(join(stripe(), 'Renamed', 'Card 001 Angle A', 'late.mov'), clip);
  await until('what comes into the folder later', () => daemon.clips('Renamed').length === CLIPS + 1, 10);
});

trap('a folder of 1,000 files moved out is told in few words, and nothing of it is left', [], async () => {
  await arrived('Moved Out');
  renameSync(join(stripe(), 'Moved Out', 'Card 001'), join(place.folder, 'moved out'));
  await until('no clip is left', () => daemon.clips('Moved Out').length === 0, 30);
  await until('no byte is left', () => bytes('Moved Out') === 0, 30);
  expect(lost('Moved Out')).toBe(FILES);
  expect(daemon.told('gone', 'Moved Out/').length).toBeLessThan(20);
});

trap('50 nested folders made and filled with 1,000 files each, at once: none is lost', [], async () => {
  for (let folder = 0; folder < FLOOD_FOLDERS; folder += 1) {
    const inside = join(stripe(), 'Nested', `${folder % 7}`, `${folder}`, 'card');
    mkdirSync(inside, { recursive: true });
    fill(inside);
    await sleep(1);
  }
  await until('all are counted', () => bytes('Nested') === FLOOD, 60);
  expect(bytesBelow(join(stripe(), 'Nested'))).toBe(FLOOD);
});

trap('50,000 files into 50 folders that are known: none is lost', [], async () => {
  for (let folder = 0; folder < FLOOD_FOLDERS; folder += 1) {
    fill(join(stripe(), 'Into Known Folders', `${folder}`));
    await sleep(1);
  }
  await until('all are counted', () => bytes('Into Known Folders') === FLOOD, 60);
});

trap('the queue of events runs over while nobody reads it: none is lost, under the same process', [], async () => {
  await until('the shelf is read', () => daemon.volume('shelf-a')?.state === 'live', 20);
  await sleep(1500);
  const pid = daemon.rootProcess(shelf());
  process.kill(pid, 'SIGSTOP');
  const stopped = performance.now();
  // 16,384 events is what the kernel keeps.
  for (const [from, to] of waiting) renameSync(from, to);
  const seconds = (performance.now() - stopped) / 1000;
  // After 10 s it would count as hung, be given up, and another would begin anew: that is another trap.
  expect(seconds, 'seconds for 20,000 renames').toBeLessThan(9);
  process.kill(pid, 'SIGCONT');
  await until('all are counted', () => bytes('Overflow') === OVERFLOW_FOLDERS * FILES, 60);
  expect(daemon.rootProcess(shelf())).toBe(pid);
});
