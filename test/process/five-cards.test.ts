import { closeSync, cpSync, mkdirSync, openSync, readdirSync, statSync, writeSync } from 'node:fs';
import { join, relative } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect } from 'vitest';
import { media, until } from './headroomd.ts';
import { trap } from './traps/abilities.ts';
import { bytesBelow, clipOfSize, type Daemon, type Ground, ground } from './traps/ground.ts';
import { type Drive, ext4Drive, run } from './traps/machine.ts';

/**
 * A day of Tidewater Sessions: five cards, angles A to E, copied at the same time and slowly onto two volumes. Card C is
 * pulled half-way; the drive that holds A, B and C is taken along at lunch, and comes back.
 */
let place: Ground;

const PROJECT = 'Tidewater Sessions';
const TAKES = [1, 2, 3, 4, 5, 6];
const FRAMES = 'N001C001_270303';
const SOUND = 'SM12-T003.WAV';

beforeAll(() => {
  place = ground();
});
afterAll(() => place.clear());

/** Every take has a content, and a size, of its own. */
function takeOf(angle: string, take: number): Buffer {
  const name = `tidewater-${angle.toLowerCase()}.mov`;
  return clipOfSize(name, statSync(join(media, name)).size + 4096 * take);
}

const takeName = (angle: string, take: number) => `${angle}001C00${take}_270304.mov`;

/** One writer, a pause after each part; `parts` fewer than there are: it is broken off. */
async function copyTake(folder: string, angle: string, take: number, parts = 4): Promise<void> {
  const bytes = takeOf(angle, take);
  const fd = openSync(join(folder, takeName(angle, take)), 'w');
  try {
    for (let part = 0; part < parts; part += 1) {
      const from = Math.floor((bytes.length * part) / 4);
      writeSync(fd, bytes, from, Math.floor((bytes.length * (part + 1)) / 4) - from);
      await sleep(60 + 25 * ((take + part + angle.charCodeAt(0)) % 6));
    }
  } finally {
    closeSync(fd);
  }
}

async function copyTakes(folder: string, angle: string, takes: readonly number[]): Promise<void> {
  mkdirSync(folder, { recursive: true });
  for (const take of takes) await copyTake(folder, angle, take);
}

const clipsOn = (daemon: Daemon, volume: string) => daemon.clips(PROJECT).filter((clip) => clip.volume === volume);

/** What is said of both volumes, to be compared before and after. */
function figures(daemon: Daemon, volume: string) {
  const { bytes, footageBytes, clips, durationSeconds } = daemon.project(PROJECT, volume) ?? {};
  return { bytes, footageBytes, clips, durationSeconds, listed: clipsOn(daemon, volume).length };
}

trap('a day of five cards: one pulled half-way, one volume away at lunch', ['drives'], async () => {
  const drive: Drive = ext4Drive(join(place.folder, 'drive'));
  place.undo(() => drive.remove());
  drive.mount();
  const [stripe, shelf] = [drive.mountPoint, join(place.folder, 'shelf-a')];
  mkdirSync(shelf);
  const volumes = { stripe, 'shelf-a': shelf };
  const card = (angle: string) => join('ABC'.includes(angle) ? stripe : shelf, PROJECT, 'Footage', `Angle ${angle}`);
  const options = { volumes, arrivals: ['stalled_after = "5 s"', 'quiet_remote = "4 s"'] };
  const daemon = await place.start(options);

  // Morning: all five at once. Card C is pulled in the middle of its third take.
  await Promise.all([
    copyTakes(card('A'), 'A', TAKES),
    copyTakes(card('B'), 'B', TAKES),
    copyTakes(card('C'), 'C', [1, 2]).then(() => copyTake(card('C'), 'C', 3, 2)),
    copyTakes(card('D'), 'D', [1, 2, 3]),
    copyTakes(card('E'), 'E', [1, 2, 3]),
  ]);
  const pulled = `${PROJECT}/Footage/Angle C/${takeName('C', 3)}`;
  await until('the copied takes are clips', () => clipsOn(daemon, 'stripe').length === 14, 15);
  const stalled = () => daemon.arrivals(PROJECT).filter(({ state }) => state === 'stalled');
  await until(
    'the broken take is told',
    () =>
      stalled()
        .map(({ path }) => path)
        .join() === pulled,
    20,
  );
  expect(stalled()[0]).toMatchObject({ volume: 'stripe', reason: 'incomplete' });
  const warned = () => daemon.snapshot().advisories.filter(({ kind }) => kind === 'arrival-stalled');
  await until('and warned of', () => warned().length === 1, 20);
  expect(warned()[0]?.message).toContain(pulled);
  expect(warned()[0]?.remedies[0]?.action).toContain('keep the card');

  // Lunch: the drive is taken along. The other two cards go on.
  await until('the sums are up to date', () => daemon.project(PROJECT, 'stripe')?.bytes === bytesBelow(stripe), 20);
  const morning = figures(daemon, 'stripe');
  drive.unmount();
  await until('the drive is unknown', () => daemon.volume('stripe')?.state === 'unknown', 20);
  await Promise.all([copyTakes(card('D'), 'D', [4, 5, 6]), copyTakes(card('E'), 'E', [4, 5, 6])]);
  cpSync(join(media, FRAMES), join(card('D'), FRAMES), { recursive: true });
  cpSync(join(media, SOUND), join(card('E'), SOUND));
  await until('D and E are clips', () => clipsOn(daemon, 'shelf-a').length === 14, 20);
  await sleep(2000);
  expect(daemon.volume('stripe')).toMatchObject({ state: 'unknown', stale: true });
  expect(figures(daemon, 'stripe')).toEqual(morning);
  expect(daemon.told('gone')).toEqual([]);
  // What was said of the pulled card stands: nothing new is known.
  expect(warned()).toHaveLength(1);

  // Afternoon: it is back, and the rest of card C is copied over what there is of it.
  drive.mount();
  await until('the drive is live', () => daemon.volume('stripe')?.state === 'live', 20);
  expect(figures(daemon, 'stripe')).toEqual(morning);
  await copyTakes(card('C'), 'C', [3, 4, 5, 6]);
  await until('C is there', () => clipsOn(daemon, 'stripe').length === 18, 15);
  await until('nothing is stalled', () => stalled().length === 0 && warned().length === 0, 15);

  // Evening: every file once, and as many bytes as the files have.
  const totals = () => [stripe, shelf].map(bytesBelow);
  const counted = () => ['stripe', 'shelf-a'].map((volume) => daemon.project(PROJECT, volume)?.bytes);
  await until('the sums are those of the files', () => counted().join() === totals().join(), 20);
  for (const [name, path] of Object.entries(volumes)) {
    const files = run('find', path, '-type', 'f', '(', '-name', '*.mov', '-o', '-name', '*.WAV', ')')
      .trim()
      .split('\n');
    const listed = clipsOn(daemon, name).filter(({ codec }) => codec !== 'DPX');
    expect(listed.flatMap(({ paths }) => paths).sort()).toEqual(files.map((file) => relative(path, file)).sort());
    for (const clip of listed) expect(clip.bytes).toBe(statSync(join(path, clip.paths[0] ?? '')).size);
    expect(daemon.volume(name)?.safety.exposedBytes).toBe(bytesBelow(path));
  }
  const frames = clipsOn(daemon, 'shelf-a').find(({ codec }) => codec === 'DPX');
  expect(frames).toMatchObject({ fileCount: readdirSync(join(media, FRAMES)).length, missingFrames: [] });
  const read = Map.groupBy(daemon.told('clip-ready'), ({ file }) => file);
  expect([...read].filter(([, times]) => times.length !== 1).map(([file]) => file)).toEqual([]);
  expect(read.size).toBe(32);
  expect(daemon.told('gone')).toEqual([]);

  // A restart in the evening reads nothing again and says the same.
  const complete = (volume: string) => figures(daemon, volume).clips === figures(daemon, volume).listed;
  await until('the clips are counted', () => complete('stripe') && complete('shelf-a'), 20);
  const evening = ['stripe', 'shelf-a'].map((volume) => figures(daemon, volume));
  expect(await daemon.end()).toBe(0);
  const next = await place.start({ ...options, after: daemon });
  await until('both are live', () => next.snapshot().volumes.every(({ state }) => state === 'live'), 15);
  await sleep(3000);
  expect([next.told('clip-ready'), next.told('probe'), next.told('gone')]).toEqual([[], [], []]);
  expect(next.log().filter(({ stage }) => stage === 'probing')).toEqual([]);
  expect(['stripe', 'shelf-a'].map((volume) => figures(next, volume))).toEqual(evening);
});
