import { execFileSync, spawn } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { lstatSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, describe, expect, test } from 'vitest';
import type { InventoryFile } from '../../../src/core/cards/inventory.ts';
import { toUtf8 } from '../../../src/core/intake/path-text.ts';
import type { Clock } from '../../../src/core/ports.ts';
import { type StartCardProcess, startCardProcess } from '../../../src/rim/card/card-process.ts';
import { createCardReader } from '../../../src/rim/card/card-reader.ts';
import { openTree } from '../../../src/rim/card/card-tree.ts';
import { listFiles, recognise } from '../../../src/rim/card/list-card.ts';
import type { CardLook, CardMount, CardReading } from '../../../src/rim/card/protocol.ts';
import { type CardFileSystem, type CardImage, cardImage, whyNoCards } from './card-image.ts';
import { realClock } from './real-clock.ts';

const entry = fileURLToPath(new URL('../../../src/daemon/compose-card.ts', import.meta.url));
const cleanups: (() => void)[] = [];
afterEach(() => {
  for (const cleanup of cleanups.splice(0).reverse()) cleanup();
});

function look(mountPoint: string): Promise<CardLook> {
  const reader = createCardReader({ entry, clock: realClock });
  const mount: CardMount = { mountPoint, device: '7:0', fileSystem: 'ext4', source: '/dev/loop0' };
  return reader.look(mount).finally(() => reader.stop());
}

async function readingOf(mountPoint: string): Promise<CardReading> {
  const found = await look(mountPoint);
  if (found.is !== 'card') throw new Error(`no card: ${JSON.stringify(found)}`);
  return found.reading;
}

function folder(files: Readonly<Record<string, number>> = {}): string {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-look-'));
  cleanups.push(() => rmSync(place, { recursive: true, force: true }));
  for (const [path, size] of Object.entries(files)) {
    mkdirSync(join(place, path, '..'), { recursive: true });
    writeFileSync(join(place, path), Buffer.alloc(size));
  }
  return place;
}

/** Takes of the nature documentary on a card for stills and film. */
const SALT = {
  'DCIM/100SALTM/A001.MOV': 900_000,
  'DCIM/100SALTM/A002.MOV': 700_000,
  'DCIM/101SALTM/A003.MOV': 5,
  'DCIM/101SALTM/A003.THM': 300,
  'MISC/EMPTY.DAT': 0,
};

describe.each(['ext4', 'exfat'] as CardFileSystem[])('a card in %s', (fileSystem) => {
  const whyNot = whyNoCards(fileSystem);
  if (whyNot !== null) console.warn(`NOT CHECKED: reading a card in ${fileSystem}. None can be put in here: ${whyNot}`);

  function onCard(name: string, body: (card: CardImage) => Promise<void>): void {
    (whyNot === null ? test : test.skip)(name, { timeout: 60_000 }, async () => {
      const card = cardImage(fileSystem, 'SALT_A');
      cleanups.push(card.remove);
      await body(card);
    });
  }

  onCard('is recognised, and every file told with size and time; not one byte of it changes', async (card) => {
    card.record(SALT);
    const before = card.digest();
    card.mount('ro');
    const { layout, name, files, gap } = await readingOf(card.mountPoint);
    expect({ layout, name, gap }).toEqual({ layout: 'DCIM', name: 'SALT_A', gap: null });
    expect(Object.fromEntries(files.map(({ path, size }) => [path, size]))).toEqual(SALT);
    expect(files.map(({ path }) => path)).toEqual(Object.keys(SALT));
    // Each file was recorded a minute after the one before; exFAT keeps 10 ms (Microsoft exFAT specification, 7.4.5).
    const times = files.map(({ mtimeMs }) => mtimeMs ?? 0);
    expect(times.slice(1).map((time, place) => Math.round((time - (times[place] ?? 0)) / 1000))).toEqual([
      60, 60, 60, 60,
    ]);
    card.unmount();
    expect(card.digest()).toBe(before);
  });

  onCard('of a file nothing is opened, and none is changed, where the card can be written', async (card) => {
    card.record(SALT);
    card.mount('rw');
    const paths = Object.keys(SALT).map((path) => join(card.mountPoint, path));
    const old = new Date('2027-01-01T00:00:00Z');
    for (const path of paths) utimesSync(path, old, lstatSync(path).mtime);
    const stats = () =>
      paths.map((path) => lstatSync(path)).map(({ atimeMs, mtimeMs, size }) => [atimeMs, mtimeMs, size]);
    const before = stats();
    const heard = await whatHappensOn(card.mountPoint, async () => void (await readingOf(card.mountPoint)));
    expect(stats()).toEqual(before);
    expect(heard.filter((line) => /ISDIR .*DCIM/.test(line)).length).toBeGreaterThan(0);
    // Folders are opened to be read; nothing else happens at all.
    expect(heard.filter((line) => !/^(?:OPEN|ACCESS|CLOSE_NOWRITE,CLOSE),ISDIR /.test(line))).toEqual([]);
  });

  onCard('pulled in the middle of reading: what was seen so far, and that it is not all', async (card) => {
    card.record(Object.fromEntries(Array.from({ length: 60 }, (_, n) => [`DCIM/${100 + n}SALTM/A${n}.MOV`, 1000])));
    card.mount('ro');
    const listing = Promise.withResolvers<void>();
    const start: StartCardProcess = (program, mount) => {
      const started = startCardProcess(program, mount);
      started.onMessage((message) => {
        if (message.type === 'files') listing.resolve();
      });
      return started;
    };
    const slow = fileURLToPath(new URL('./slow-entry.ts', import.meta.url));
    const reader = createCardReader({ entry: slow, clock: realClock, start });
    cleanups.push(() => reader.stop());
    const looking = reader.look({ mountPoint: card.mountPoint, device: '7:0', fileSystem, source: '/dev/loop0' });
    await listing.promise;
    card.unmount(true);
    const found = await looking;
    if (found.is !== 'card') throw new Error(JSON.stringify(found));
    expect(found.reading.gap).toBe('the card was taken out while it was read');
    expect(found.reading.files.length).toBeGreaterThan(0);
    expect(found.reading.files.length).toBeLessThan(60);
  });
});

describe('what is no card', () => {
  test('a drive with projects on it is left after its first levels', async () => {
    const drive = folder();
    for (let project = 0; project < 30; project += 1) {
      for (let day = 0; day < 10; day += 1) {
        mkdirSync(join(drive, `Project ${project}/Day ${day}/Footage`), { recursive: true });
        writeFileSync(join(drive, `Project ${project}/Day ${day}/Footage/A001.mov`), 'x');
      }
    }
    const folders: string[] = [];
    const opendirSync: typeof nodeFs.opendirSync = (path, options) => {
      folders.push(String(path));
      return nodeFs.opendirSync(path, options);
    };
    expect(await recognise(openTree({ ...nodeFs, opendirSync }, drive), { progress() {} })).toEqual({
      signs: null,
      empty: false,
    });
    // The root, 30 projects, and of the 300 days a hundred; none of their folders.
    expect(folders).toHaveLength(131);
    expect(await look(drive)).toEqual({ is: 'no-card', empty: false });
  });

  test('one with nothing on it may become a card; system folders are nothing', async () => {
    expect(await look(folder())).toEqual({ is: 'no-card', empty: true });
    expect(await look(folder({ 'System Volume Information/IndexerVolumeGuid': 76 }))).toEqual({
      is: 'no-card',
      empty: true,
    });
  });

  test('one that is not there', async () => {
    expect(await look('/nowhere/at all')).toMatchObject({ is: 'unknown', why: expect.stringContaining('ENOENT') });
  });
});

describe('what is on a card', () => {
  test('links are neither followed nor told, system files are left out, any name is told', async () => {
    const card = folder({
      'DCIM/100SALTM/A001.MOV': 5,
      'DCIM/100SALTM/._A001.MOV': 4096,
      'DCIM/100SALTM/.DS_Store': 6148,
      '.Trashes/501/A000.MOV': 7,
      'DCIM/100SALTM/two\nlines.MOV': 1,
    });
    const invalid = toUtf8(`${card}/DCIM/100SALTM/caf\uF7E9.MOV`);
    writeFileSync(Buffer.from(invalid), 'x');
    symlinkSync('/', join(card, 'DCIM/100SALTM/all'));
    symlinkSync(join(card, 'DCIM/100SALTM/A001.MOV'), join(card, 'DCIM/100SALTM/A009.MOV'));
    execFileSync('mkfifo', [join(card, 'DCIM/pipe.MOV')]);
    expect((await readingOf(card)).files.map(({ path, size }) => [path, size])).toEqual(
      [
        ['DCIM/100SALTM/A001.MOV', 5],
        ['DCIM/100SALTM/caf\uF7E9.MOV', 1],
        ['DCIM/100SALTM/two\nlines.MOV', 1],
      ].sort((one, other) => (String(one[0]) < String(other[0]) ? -1 : 1)),
    );
  });

  test('20,000 frames come whole', { timeout: 60_000 }, async () => {
    const card = folder({ 'DCIM/100SALTM/A001.MOV': 5 });
    for (let reel = 0; reel < 10; reel += 1) {
      mkdirSync(join(card, `DCIM/${200 + reel}SALTM`));
      for (let frame = 0; frame < 2000; frame += 1)
        writeFileSync(join(card, `DCIM/${200 + reel}SALTM/F_${frame}.DNG`), '');
    }
    const { files, gap } = await readingOf(card);
    expect([files.length, gap]).toEqual([20_001, null]);
    expect(files).toEqual(files.toSorted((one, other) => (one.path < other.path ? -1 : 1)));
  });

  test('a folder and a file that cannot be read are a gap, and named', async () => {
    const card = folder({ 'DCIM/100SALTM/A001.MOV': 5, 'DCIM/101SALTM/A002.MOV': 5, 'DCIM/102SALTM/A003.MOV': 5 });
    const broken = (path: nodeFs.PathLike) => {
      const message = `EIO: i/o error, scandir '${String(path)}'`;
      throw Object.assign(new Error(message), { code: 'EIO' });
    };
    const opendirSync: typeof nodeFs.opendirSync = (path, options) =>
      String(path).endsWith('101SALTM') ? broken(path) : nodeFs.opendirSync(path, options);
    const lstatSync = ((path: nodeFs.PathLike, options: { bigint: true }) =>
      String(path).endsWith('A003.MOV') ? broken(path) : nodeFs.lstatSync(path, options)) as typeof nodeFs.lstatSync;
    const told: InventoryFile[] = [];
    const tree = openTree({ ...nodeFs, opendirSync, lstatSync }, card);
    const gap = await listFiles(tree, { progress() {}, files: (files) => void told.push(...files) });
    expect(told.map(({ path }) => path)).toEqual(['DCIM/100SALTM/A001.MOV']);
    expect(gap).toBe('DCIM/101SALTM cannot be read (EIO: i/o error, scandir), and 1 more');
  });
});

describe('the process of a card', () => {
  const hangs: CardMount = { mountPoint: 'hang', device: '7:0', fileSystem: 'ext4', source: '/dev/loop0' };
  const slow = fileURLToPath(new URL('./slow-entry.ts', import.meta.url));

  test('that says nothing for 20 s is given up, and another card is read meanwhile', async () => {
    const timers: { ms: number; run: () => void }[] = [];
    const clock: Clock = {
      ...realClock,
      after(ms, run) {
        timers.push({ ms, run });
        return () => {};
      },
    };
    const reader = createCardReader({ entry: slow, clock });
    cleanups.push(() => reader.stop());
    const hung = reader.look(hangs);
    const card = folder({ 'DCIM/100SALTM/A001.MOV': 5 });
    expect(await reader.look({ ...hangs, mountPoint: card })).toMatchObject({ is: 'card' });
    expect(timers[0]?.ms).toBe(20_000);
    timers[0]?.run();
    expect(await hung).toEqual({ is: 'unknown', why: 'it gave no answer for 20 s' });
  });

  test('there are never more than two, and the third gets its turn when one is through', async () => {
    const started: string[] = [];
    const exits: (() => void)[] = [];
    const start: StartCardProcess = (_, mount) => {
      started.push(mount.mountPoint);
      return { onMessage() {}, onExit: (handler) => void exits.push(() => handler('ended with code 1')), abandon() {} };
    };
    const reader = createCardReader({ entry: slow, clock: realClock, start });
    cleanups.push(() => reader.stop());
    const looks = ['/a', '/b', '/c'].map((mountPoint) => reader.look({ ...hangs, mountPoint }));
    expect(started).toEqual(['/a', '/b']);
    exits[0]?.();
    expect(await looks[0]).toEqual({ is: 'unknown', why: 'the process that read it ended with code 1' });
    expect(started).toEqual(['/a', '/b', '/c']);
  });
});

/** What is done with files and folders below a place meanwhile, told by the kernel (inotify(7)): `EVENT place`. */
async function whatHappensOn(place: string, body: () => Promise<void>): Promise<string[]> {
  const ear = spawn('inotifywait', ['-m', '-r', '--format', '%e %w%f', place], { stdio: ['ignore', 'pipe', 'pipe'] });
  let heard = '';
  ear.stdout.setEncoding('utf8').on('data', (text: string) => {
    heard += text;
  });
  let ready = '';
  ear.stderr.setEncoding('utf8').on('data', (text: string) => {
    ready += text;
  });
  while (!ready.includes('established')) await sleep(20);
  await body();
  await sleep(200);
  ear.kill();
  return heard.split('\n').filter((line) => line !== '');
}
