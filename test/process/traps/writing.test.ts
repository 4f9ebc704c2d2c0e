import {
  closeSync,
  ftruncateSync,
  linkSync,
  mkdirSync,
  openSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect } from 'vitest';
import { copySlowly, media, until } from '../headroomd.ts';
import { trap } from './abilities.ts';
import { bytesBelow, clipOfSize, type Daemon, type Ground, ground } from './ground.ts';

/** What copies, programs and people do to files while they arrive. Each trap has a project of its own. */
let place: Ground;
let daemon: Daemon;
let growing: Promise<void>;
let grown = Number.POSITIVE_INFINITY;

const a = readFileSync(join(media, 'tidewater-a.mov'));
const b = readFileSync(join(media, 'tidewater-b.mov'));

function project(name: string): string {
  const folder = join(place.folder, 'stripe', name);
  mkdirSync(folder, { recursive: true });
  return folder;
}

/** Names and reels of a project's clips: the reel tells which content was read. */
const reels = (name: string) =>
  daemon
    .clips(name)
    .map((clip) => `${clip.name} ${clip.reel}`)
    .sort();

beforeAll(async () => {
  place = ground();
  // A copy that is under way when the daemon starts, and goes on for some seconds.
  growing = copySlowly(join(media, 'tidewater-a.mov'), join(project('Growing'), 'A001.mov'), 6, 1000).then(() => {
    grown = Date.now();
  });
  daemon = await place.start({ volumes: { stripe: join(place.folder, 'stripe') } });
});
afterAll(() => place.clear());

trap('a slow copy with pauses of 3, 5 and 10 s is taken once, after its last byte', [], async () => {
  const folder = project('Slow Copies');
  const ready = () => daemon.told('clip-ready', '/Slow Copies/');
  const parts = [0, 0.1, 0.45, 0.99, 1].map((share) => Math.floor(a.length * share));
  // One writer keeps its file open, one opens it anew for each part, one has reserved the whole size before.
  const held = openSync(join(folder, 'held.mov'), 'w');
  const reserved = openSync(join(folder, 'reserved.mov'), 'w');
  ftruncateSync(reserved, a.length);
  for (const [part, pause] of [3000, 5000, 10_000, 0].entries()) {
    const bytes = a.subarray(parts[part], parts[part + 1]);
    writeSync(held, bytes);
    writeSync(reserved, bytes, 0, bytes.length, parts[part] ?? 0);
    writeFileSync(join(folder, 'reopened.mov'), bytes, { flag: 'a' });
    await sleep(pause);
    if (pause === 0) continue;
    expect([part, ready(), daemon.clips('Slow Copies')]).toEqual([part, [], []]);
    const stages = daemon.arrivals('Slow Copies').filter(({ state }) => state === 'copying' || state === 'settling');
    expect([part, stages.length]).toEqual([part, 3]);
  }
  closeSync(held);
  closeSync(reserved);
  await until('three clips', () => daemon.clips('Slow Copies').length === 3, 20);
  await sleep(2000);
  expect(ready()).toHaveLength(3);
  expect(daemon.project('Slow Copies')?.bytes).toBe(3 * a.length);
});

trap('a copy under a temporary name is held until its rename, and its end is no loss', [], async () => {
  const folder = project('Temporary Names');
  const names = [
    ['A001.mov.part', 'A001.mov'],
    ['.A002.mov.x7Qp2a', 'A002.mov'],
    ['A003.mov~', 'A003.mov'],
  ] as const;
  for (const [temporary] of names) writeFileSync(join(folder, temporary), a);
  const waiting = () => daemon.arrivals('Temporary Names').filter(({ reason }) => reason === 'waits-for-rename');
  await until('all are held', () => waiting().length === 3, 20);
  await sleep(2000);
  expect(daemon.clips('Temporary Names')).toEqual([]);
  for (const [temporary, name] of names) renameSync(join(folder, temporary), join(folder, name));
  await until('all are taken', () => daemon.clips('Temporary Names').length === 3, 20);
  await until('nothing is held', () => waiting().length === 0, 20);
  expect(daemon.told('clip-ready', '/Temporary Names/')).toHaveLength(3);
  expect(daemon.told('gone', 'Temporary Names/').filter(({ level }) => level > 20)).toEqual([]);
  expect(daemon.project('Temporary Names')?.bytes).toBe(3 * a.length);
});

trap('a file replaced by another in one step is read anew, and counted once', [], async () => {
  const folder = project('Replaced');
  writeFileSync(join(folder, 'A001.mov'), a);
  await until('the first is read', () => reels('Replaced').join() === 'A001.mov A001', 20);
  writeFileSync(join(folder, '.A001.mov.k3Vb9x'), b);
  renameSync(join(folder, '.A001.mov.k3Vb9x'), join(folder, 'A001.mov'));
  await until('the second is read', () => reels('Replaced').join() === 'A001.mov B001', 20);
  await until('its bytes count', () => daemon.project('Replaced')?.bytes === b.length, 20);
});

trap('a file deleted while it settles leaves nothing behind', [], async () => {
  const folder = project('Deleted');
  writeFileSync(join(folder, 'A001.mov'), a.subarray(0, 50_000));
  await until('it is on its way', () => daemon.arrivals('Deleted')[0]?.reason === 'incomplete', 20);
  rmSync(join(folder, 'A001.mov'));
  await until('nothing is waited for', () => daemon.arrivals('Deleted').length === 0, 20);
  expect(daemon.clips('Deleted')).toEqual([]);
  await until('nothing counts', () => (daemon.project('Deleted')?.bytes ?? 0) === 0, 20);
  expect(daemon.told('clip-ready', '/Deleted/')).toEqual([]);
});

trap('a file deleted and made again while it settles is one new file', [], async () => {
  const folder = project('Made Again');
  const names = ['at once.mov', 'later.mov'];
  for (const name of names) writeFileSync(join(folder, name), a.subarray(0, 50_000));
  await until('both are on their way', () => daemon.arrivals('Made Again').length === 2, 20);
  for (const name of names) rmSync(join(folder, name));
  writeFileSync(join(folder, 'at once.mov'), b);
  await sleep(1500);
  writeFileSync(join(folder, 'later.mov'), b);
  await until('both are read', () => reels('Made Again').join() === 'at once.mov B001,later.mov B001', 20);
  expect(daemon.told('clip-ready', '/Made Again/')).toHaveLength(2);
  await until('they count once each', () => daemon.project('Made Again')?.bytes === 2 * b.length, 20);
});

trap('a rewrite in place of the same size, with its time set back, is noticed', [], async () => {
  const file = join(project('Rewritten'), 'A001.mov');
  const shot = new Date('2027-03-04T20:15:00Z');
  writeFileSync(file, a);
  utimesSync(file, shot, shot);
  await until('the first is read', () => reels('Rewritten').join() === 'A001.mov A001', 20);
  const before = statSync(file, { bigint: true });
  const fd = openSync(file, 'r+');
  writeSync(fd, clipOfSize('tidewater-b.mov', a.length));
  closeSync(fd);
  utimesSync(file, shot, shot);
  const after = statSync(file, { bigint: true });
  expect([after.size, after.ino, after.mtimeNs]).toEqual([before.size, before.ino, before.mtimeNs]);
  await until('the second is read', () => reels('Rewritten').join() === 'A001.mov B001', 20);
});

trap('a file that grows while the first walk comes by is not taken before its end', [], async () => {
  await growing;
  await until('it is a clip', () => daemon.clips('Growing').length === 1, 20);
  const ready = daemon.told('clip-ready', '/Growing/') as { time?: string | number }[];
  expect(ready).toHaveLength(1);
  expect(new Date(ready[0]?.time ?? 0).getTime()).toBeGreaterThanOrEqual(grown - 5);
  expect(daemon.clips('Growing')[0]?.bytes).toBe(a.length);
});

trap('files of 1970, of the last century and of the future are taken like others, and followed', [], async () => {
  const folder = project('Odd Times');
  const times = { 'epoch.mov': 0, 'past.mov': -86_400, 'old.mov': 86_400, 'future.mov': 4_000_000_000 };
  const put = (bytes: Buffer) => {
    for (const [name, time] of Object.entries(times)) {
      writeFileSync(join(folder, name), bytes);
      utimesSync(join(folder, name), time, time);
    }
  };
  put(a);
  const all = (reel: string) =>
    Object.keys(times)
      .map((name) => `${name} ${reel}`)
      .sort();
  await until('all are read', () => reels('Odd Times').join() === all('A001').join(), 20);
  put(clipOfSize('tidewater-b.mov', a.length));
  await until('all are read anew', () => reels('Odd Times').join() === all('B001').join(), 20);
});

trap('a second name of the same content takes no room, and a change under one name counts', [], async () => {
  const folder = project('Hard Links');
  mkdirSync(join(folder, 'Selects'));
  writeFileSync(join(folder, 'A001.mov'), a);
  linkSync(join(folder, 'A001.mov'), join(folder, 'Selects', 'A001 again.mov'));
  await until('both names are clips', () => daemon.clips('Hard Links').length === 2, 20);
  await until('they count once', () => daemon.project('Hard Links')?.bytes === a.length, 20);
  writeFileSync(join(folder, 'A001.mov'), b);
  const both = () => reels('Hard Links').join() === 'A001 again.mov B001,A001.mov B001';
  await until('both names have the new content', both, 15);
  await until('it counts once', () => daemon.project('Hard Links')?.bytes === bytesBelow(folder), 20);
});
