import { mkdirSync, readFileSync, renameSync, rmSync, statSync, symlinkSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect } from 'vitest';
import { media, until } from '../headroomd.ts';
import { trap, whyNot } from './abilities.ts';
import { clipOfSize, type Daemon, type Ground, ground } from './ground.ts';
import { type Drive, exfatDrive, ext4Drive, passThrough, run, unmountAt } from './machine.ts';

/**
 * Roots that come late, go away, come back, or lie on file systems that tell less than others. One daemon, each trap with
 * a volume of its own.
 */
let place: Ground;
let daemon: Daemon;
const drives = new Map<string, Drive>();
const ends: (() => Promise<void>)[] = [];

const a = readFileSync(join(media, 'tidewater-a.mov'));
const b = readFileSync(join(media, 'tidewater-b.mov'));
/** A kind of file whose content cannot tell whether it is whole. */
const STRUCTURELESS = 'tape07_scene12.dv';

const at = (...path: string[]) => join(place.folder, ...path);
const canMount = () => whyNot('drives') === null;

/** Writes a file with the folders above it. */
function put(path: string, bytes: Buffer): void {
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(path, bytes);
}

function plugged(name: string, make: (place: string) => Drive, mounted = true): string {
  const drive = make(at(name));
  drives.set(name, drive);
  place.undo(() => drive.remove());
  if (mounted) drive.mount();
  return drive.mountPoint;
}

function driveOf(name: string): Drive {
  const drive = drives.get(name);
  if (drive === undefined) throw new Error(`there is no drive ${name}`);
  return drive;
}

const state = (volume: string) => daemon.volume(volume)?.state;
const live = (volume: string, seconds = 20) => until(`${volume} is live`, () => state(volume) === 'live', seconds);
const clips = (project: string) => daemon.clips(project);
const names = (project: string) =>
  clips(project)
    .map(({ name, reel }) => `${name} ${reel}`)
    .sort()
    .join();
const ready = (about: string) => daemon.told('clip-ready', about).length;
const gone = (volume: string) => daemon.told('gone').filter((line) => line.volume === volume).length;

beforeAll(async () => {
  place = ground();
  const volumes: Record<string, string> = { 'late-1': at('late'), 'late-2': at('much', 'later') };
  volumes['again'] = at('again');
  put(at('again', 'Remade', 'A001.mov'), a);
  volumes['linked'] = at('linked');
  for (const clip of [1, 2]) put(at('linked', 'Linked', 'Day 1', 'Card', `A00${clip}.mov`), a);
  put(at('linked', 'Linked', 'Day 2', 'A003.mov'), b);
  if (canMount()) {
    volumes['pulled'] = plugged('pulled', (folder) => ext4Drive(folder));
    for (let clip = 0; clip < 5; clip += 1) put(join(volumes['pulled'], 'Pulled', `A00${clip}.mov`), a);
    volumes['swapped'] = plugged('swapped', (folder) => ext4Drive(folder));
    for (const clip of [1, 2]) put(join(volumes['swapped'], 'Swapped', `A00${clip}.mov`), a);
    volumes['empty'] = plugged('empty', (folder) => ext4Drive(folder), false);
    volumes['coarse'] = plugged('coarse', (folder) => ext4Drive(folder, { inodeSize: 128 }));
    mkdirSync(at('behind'));
    mkdirSync(at('bound'));
    run('mount', '--bind', at('behind'), at('bound'));
    place.undo(() => unmountAt(at('bound')));
    volumes['bound'] = at('bound');
  }
  if (whyNot('exfat') === null) {
    volumes['fat'] = plugged('fat', exfatDrive);
    put(join(volumes['fat'], 'Fat', 'Card 001', 'A001.mov'), a);
    put(join(volumes['fat'], 'Fat', 'Card 001', 'A002.mov'), b);
  }
  if (whyNot('pass-through') === null) {
    mkdirSync(at('far end'));
    mkdirSync(at('far'));
    const far = await passThrough(at('far end'), at('far'));
    place.undo(() => far.remove());
    volumes['far'] = at('far');
  }
  daemon = await place.start({ volumes, arrivals: ['quiet_remote = "8 s"', 'sweep_every = "3 s"'] });
});
afterAll(async () => {
  for (const end of ends) await end();
  await place.clear();
});

trap('a root that is missing at the start, by one folder and by two, is live soon after it is made', [], async () => {
  await until('both are unknown', () => state('late-1') === 'unknown' && state('late-2') === 'unknown', 20);
  put(at('late', 'Late One', 'A001.mov'), a);
  put(at('much', 'later', 'Late Two', 'A001.mov'), a);
  await until('both are read', () => clips('Late One').length === 1 && clips('Late Two').length === 1, 20);
  expect([state('late-1'), state('late-2')]).toEqual(['live', 'live']);
  put(at('much', 'later', 'Late Two', 'A002.mov'), b);
  await until('what comes later', () => clips('Late Two').length === 2, 20);
});

trap('a root that is deleted is unknown, not empty; made again it is read anew', [], async () => {
  await until('it is read', () => clips('Remade').length === 1, 15);
  // At once: a file that is seen to go before its root goes is forgotten, and rightly.
  renameSync(at('again'), at('again, deleted'));
  rmSync(at('again, deleted'), { recursive: true });
  await until('it is unknown', () => state('again') === 'unknown', 20);
  await sleep(1500);
  mkdirSync(at('again'));
  // Empty it may be the wrong folder, so still nothing is forgotten.
  await sleep(5000);
  expect([state('again'), clips('Remade').length]).toEqual(['unknown', 1]);
  put(at('again', 'Remade', 'B001.mov'), b);
  await until('the new content is', () => names('Remade') === 'B001.mov B001', 20);
  await live('again', 5);
  expect(clips('Remade')).toHaveLength(1);
});

trap(
  'a drive that is pulled is unknown, with all that was known; back it is live within 3 s, and nothing is read again',
  ['drives'],
  async () => {
    await until('all are read', () => clips('Pulled').length === 5, 20);
    await until('all count', () => daemon.project('Pulled')?.bytes === 5 * a.length, 20);
    const drive = driveOf('pulled');
    for (let round = 0; round < 2; round += 1) {
      drive.unmount();
      await until('it is unknown', () => state('pulled') === 'unknown', 20);
      // What is written to the folder below the mount point is not the volume's.
      put(join(drive.mountPoint, 'Pulled', `stray ${round}.mov`), b);
      await sleep(4000);
      expect([state('pulled'), clips('Pulled').length, daemon.project('Pulled')?.bytes]).toEqual([
        'unknown',
        5,
        5 * a.length,
      ]);
      expect(daemon.volume('pulled')?.stale).toBe(true);
      rmSync(join(drive.mountPoint, 'Pulled'), { recursive: true });
      drive.mount();
      const mounted = performance.now();
      await live('pulled', 20);
      console.info(`a drive that came back was live after ${Math.round(performance.now() - mounted)} ms`);
    }
    put(join(drive.mountPoint, 'Pulled', 'A005.mov'), b);
    await until('its watch hears again', () => clips('Pulled').length === 6, 20);
    await sleep(2000);
    expect([ready('/Pulled/'), gone('pulled'), names('Pulled').includes('stray')]).toEqual([6, 0, false]);
  },
);

trap(
  'another drive at the same place is unknown, and nothing is forgotten for it; the right one is live again within 3 s',
  ['drives'],
  async () => {
    await until('both are read', () => clips('Swapped').length === 2, 20);
    await until('both count', () => daemon.project('Swapped')?.bytes === 2 * a.length, 20);
    const right = driveOf('swapped');
    // Where nothing but the second of its making tells a drive from another, that must be another second.
    await sleep(1100);
    const wrong = ext4Drive(at('wrong'), { at: right.mountPoint });
    place.undo(() => wrong.remove());
    right.unmount();
    wrong.mount();
    put(join(wrong.mountPoint, 'Not Ours', 'B001.mov'), b);
    await until('it is unknown', () => state('swapped') === 'unknown', 20);
    await sleep(5000);
    expect([state('swapped'), clips('Swapped').length, clips('Not Ours').length, gone('swapped')]).toEqual([
      'unknown',
      2,
      0,
      0,
    ]);
    expect(daemon.project('Swapped')?.bytes).toBe(2 * a.length);
    const said = daemon.log().filter(({ volume, msg }) => volume === 'swapped' && msg.includes('another drive'));
    expect(said).toHaveLength(1);
    expect(said[0]?.msg).toContain('give the volume a new name in the configuration');
    wrong.unmount();
    right.mount();
    await live('swapped', 3);
    await sleep(2000);
    expect([clips('Swapped').length, ready('/Swapped/'), gone('swapped')]).toEqual([2, 2, 0]);
  },
);

trap(
  'another drive that is there when the program starts again is not taken for the known one',
  ['drives'],
  async () => {
    const right = ext4Drive(at('before'));
    place.undo(() => right.remove());
    right.mount();
    const volumes = { restarted: right.mountPoint };
    put(join(right.mountPoint, 'Restarted', 'A001.mov'), a);
    const first = await place.start({ volumes });
    await until('it is read', () => first.clips('Restarted').length === 1, 20);
    await first.end();
    right.unmount();
    await sleep(1100);
    const wrong = ext4Drive(at('after'), { at: right.mountPoint });
    place.undo(() => wrong.remove());
    wrong.mount();
    const second = await place.start({ volumes, after: first });
    await until('it is unknown', () => second.volume('restarted')?.state === 'unknown', 20);
    await sleep(2000);
    const said = second.log().filter(({ volume, msg }) => volume === 'restarted' && msg.includes('another drive'));
    expect([second.clips('Restarted').length, second.told('gone').length, said.length]).toEqual([1, 0, 1]);
    await second.end();
  },
);

trap('a folder moved out of the root, with a link left in its place: its files are booked as gone', [], async () => {
  await until('all are read', () => clips('Linked').length === 3, 20);
  await until('all count', () => daemon.project('Linked')?.bytes === 2 * a.length + b.length, 20);
  mkdirSync(at('outside'));
  renameSync(at('linked', 'Linked', 'Day 1'), at('outside', 'Day 1'));
  symlinkSync(at('outside', 'Day 1'), at('linked', 'Linked', 'Day 1'));
  await until('they are gone', () => names('Linked') === 'A003.mov B001', 15);
  await until('their bytes too', () => daemon.project('Linked')?.bytes === b.length, 15);
  const [told] = daemon.told('gone').filter(({ volume }) => volume === 'linked');
  expect(told).toMatchObject({ files: 2 });
});

trap('a drive mounted onto an empty folder that is already watched is found', ['drives'], async () => {
  await live('empty');
  const drive = driveOf('empty');
  drive.mount();
  put(join(drive.mountPoint, 'Plugged In', 'A001.mov'), a);
  await until('what is on it', () => clips('Plugged In').length === 1, 20);
  put(join(drive.mountPoint, 'Plugged In', 'A002.mov'), b);
  await until('what comes later', () => clips('Plugged In').length === 2, 20);
  drive.unmount();
  await until('without it, it is unknown', () => state('empty') === 'unknown', 20);
  expect(clips('Plugged In')).toHaveLength(2);
});

trap('times of whole seconds: a rewrite of the same size within the second is not overlooked', ['drives'], async () => {
  const folder = join(driveOf('coarse').mountPoint, 'Coarse');
  mkdirSync(folder);
  await live('coarse');
  const waits = [0, 200, 450, 800];
  for (const wait of waits) await rewriteWithinASecond(join(folder, `after ${wait} ms.mov`), wait);
  const expected = waits.map((wait) => `after ${wait} ms.mov B001`).join();
  await until('the second content is what is known', () => names('Coarse') === expected, 20);
  // Later than that it shows in the file's time.
  writeFileSync(join(folder, 'after 0 ms.mov'), a);
  await until('the third', () => names('Coarse').startsWith('after 0 ms.mov A001'), 20);
});

/** Writes two contents of one size so that nothing in the file's stat tells them apart. */
async function rewriteWithinASecond(file: string, wait: number): Promise<void> {
  for (let attempt = 1; attempt <= 5; attempt += 1) {
    await sleep(1000 - (Date.now() % 1000) + 20);
    writeFileSync(file, a);
    await sleep(wait);
    const before = statSync(file, { bigint: true });
    writeFileSync(file, clipOfSize('tidewater-b.mov', a.length));
    const after = statSync(file, { bigint: true });
    const same = after.size === before.size && after.mtimeNs === before.mtimeNs && after.ctimeNs === before.ctimeNs;
    if (same) return;
    rmSync(file);
    await sleep(1000);
  }
  throw new Error('no two writes came within one second of the clock');
}

trap(
  'exFAT: a rename within a folder is followed, and a remount with other inodes reads nothing again',
  ['exfat'],
  async () => {
    const drive = driveOf('fat');
    const folder = join(drive.mountPoint, 'Fat', 'Card 001');
    await until('both are read', () => clips('Fat').length === 2, 20);
    renameSync(join(folder, 'A002.mov'), join(folder, 'A002 pickup.mov'));
    await until('the rename', () => names('Fat') === 'A001.mov A001,A002 pickup.mov B001', 15);
    const [read, went] = [ready('/Fat/'), gone('fat')];
    const inodes = () =>
      [folder, join(folder, 'A001.mov'), join(folder, 'A002 pickup.mov')].map((path) => statSync(path).ino);
    const before = inodes();
    drive.unmount();
    await until('it is unknown', () => state('fat') === 'unknown', 20);
    drive.mount();
    // The numbers are given out in the order in which somebody looks.
    statSync(join(folder, 'A002 pickup.mov'));
    expect(inodes()).not.toEqual(before);
    await live('fat', 20);
    await sleep(6000);
    expect([clips('Fat').length, ready('/Fat/'), gone('fat')]).toEqual([2, read, went]);
    put(join(folder, 'A003.mov'), a);
    await until('what comes later', () => clips('Fat').length === 3, 20);
  },
);

trap('written through another path to the same files: seen like any other', ['drives'], async () => {
  await live('bound');
  put(at('behind', 'Bound', 'A001.mov'), a);
  await until('it is read', () => clips('Bound').length === 1, 20);
  writeFileSync(at('behind', 'Bound', 'A001.mov'), b);
  await until('it is read anew', () => names('Bound') === 'A001.mov B001', 20);
  rmSync(at('behind', 'Bound'), { recursive: true });
  await until('it is gone', () => clips('Bound').length === 0, 20);
});

trap(
  'written at the far end of a network mount: found by looking, taken after the longer quiet, which is said',
  ['pass-through'],
  async () => {
    await live('far');
    put(at('far end', 'Far', 'A001.mov'), a.subarray(0, 60_000));
    put(at('far end', 'Far', STRUCTURELESS), readFileSync(join(media, STRUCTURELESS)));
    await until('both are found', () => daemon.arrivals('Far').length === 2, 12);
    await sleep(2500);
    writeFileSync(at('far end', 'Far', 'A001.mov'), a);
    const written = performance.now();
    await until('the clip with a structure', () => clips('Far').some(({ name }) => name === 'A001.mov'), 25);
    // Nobody can see whether a far writer still has it open: at least five seconds of quiet.
    expect(performance.now() - written).toBeGreaterThan(5000);
    await until('the one without', () => clips('Far').length === 2, 25);
    const said = new Map(
      daemon.told('clip-ready', '/Far/').map(({ file = '', evidence }) => [file.split('/').at(-1), evidence]),
    );
    expect([said.get('A001.mov'), said.get(STRUCTURELESS)]).toEqual(['container-whole', 'quiet-only']);
    const reasons = () => daemon.arrivals('Far').map(({ path, reason }) => `${path.slice(4)}: ${reason}`);
    const both = `A001.mov: complete,${STRUCTURELESS}: complete-by-quiet`;
    await until('both reasons are shown', () => reasons().sort().join() === both, 20);
    rmSync(at('far end', 'Far', 'A001.mov'));
    await until('a far deletion', () => clips('Far').length === 1, 15);
  },
);
