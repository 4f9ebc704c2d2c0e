import { execFileSync } from 'node:child_process';
import * as nodeFs from 'node:fs';
import {
  cpSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, describe, expect, test } from 'vitest';
import { type CardRoot, type ListOnCard, listsOnCard } from '../../../src/core/cards/inventory-list.ts';
import type { Asked } from '../../../src/rim/base/ask-process.ts';
import { createCardListReader } from '../../../src/rim/card/card-list-reader.ts';
import { openTree } from '../../../src/rim/card/card-tree.ts';
import { listFiles } from '../../../src/rim/card/list-card.ts';
import { type CardListOrder, readListOnCard } from '../../../src/rim/card/read-list.ts';
import { readKnownList } from '../../../src/rim/manifest/known-list.ts';
import { historyByHand } from '../manifest/by-hand.ts';
import { type CardFileSystem, type CardImage, cardImage, whyNoCards } from './card-image.ts';

/** Lists by md5sum(1) of GNU coreutils, and by hand after the ASC Media Hash List Specification 1.0, on real cards. */
const entry = fileURLToPath(new URL('../../../src/daemon/compose-card-list.ts', import.meta.url));
const cleanups: (() => void)[] = [];
afterEach(() => {
  for (const cleanup of cleanups.splice(0).reverse()) cleanup();
});

const TAKES = ['A001.MOV', 'A002.MOV'];
const FOLDER = 'DCIM/100SALTM';

/** Takes, a list of checksums beside them and a history of the whole. */
function fill(root: string): void {
  mkdirSync(join(root, FOLDER), { recursive: true });
  for (const name of TAKES) writeFileSync(join(root, FOLDER, name), `content of ${name}`);
  writeFileSync(join(root, FOLDER, 'day3.md5'), execFileSync('md5sum', TAKES, { cwd: join(root, FOLDER) }));
  historyByHand(root, 'SALT_A', [
    TAKES.map((name) => ({ path: `${FOLDER}/${name}`, size: 19, md5: md5Of(root, name) })),
  ]);
}

function md5Of(root: string, name: string): string {
  return execFileSync('md5sum', [join(root, FOLDER, name)], { encoding: 'utf8' }).slice(0, 32);
}

/** The card as it is listed, and its lists. */
async function listed(mountPoint: string): Promise<{ card: CardRoot; lists: ListOnCard[] }> {
  const tree = openTree(nodeFs, mountPoint);
  const files: ListOnCard['files'] = [];
  await listFiles(tree, { progress() {}, files: (some) => void files.push(...some) });
  return { card: { mountPoint, device: tree.device, ino: tree.ino }, lists: listsOnCard(files) };
}

const read = (order: CardListOrder, reading = readKnownList) => readListOnCard(order, nodeFs, reading);

function folder(): string {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-card-list-'));
  cleanups.push(() => rmSync(place, { recursive: true, force: true }));
  fill(place);
  return place;
}

async function orderOf(mountPoint: string, place: string): Promise<CardListOrder> {
  const { card, lists } = await listed(mountPoint);
  const list = lists.find((one) => one.place === place);
  if (list === undefined) throw new Error(`no list ${place} among ${lists.map((one) => one.place).join(', ')}`);
  return { card, list };
}

describe.each(['ext4', 'exfat'] as CardFileSystem[])('lists on a card in %s', (fileSystem) => {
  const whyNot = whyNoCards(fileSystem);
  if (whyNot !== null)
    console.warn(`NOT CHECKED: lists on a card in ${fileSystem}. None can be put in here: ${whyNot}`);

  function onCard(name: string, body: (card: CardImage) => Promise<void>): void {
    (whyNot === null ? test : test.skip)(name, { timeout: 60_000 }, async () => {
      const card = cardImage(fileSystem, 'SALT_A');
      cleanups.push(card.remove);
      card.inCamera(fill);
      await body(card);
    });
  }

  onCard('are read by a process of their own, and not one byte of the card changes', async (card) => {
    const before = card.digest();
    card.mount('ro');
    const { card: root, lists } = await listed(card.mountPoint);
    const reader = createCardListReader({ entry });
    const told = await Promise.all(lists.map((list) => reader.read(root, list)));
    const files = [0, 1].map((n) => ({
      path: TAKES[n],
      size: null,
      sums: { md5: md5Of(card.mountPoint, TAKES[n] ?? '') },
    }));
    expect(lists.map(({ place }) => place)).toEqual([`${FOLDER}/day3.md5`, 'ascmhl']);
    expect(told).toEqual([
      { is: 'read', list: { kind: 'list', files, ignore: [] }, gap: null },
      {
        is: 'read',
        list: {
          kind: 'history',
          files: files.map((file) => ({ ...file, path: `${FOLDER}/${file.path}`, size: 19 })),
          ignore: ['ascmhl'],
        },
        gap: null,
      },
    ]);
    card.unmount();
    expect(card.digest()).toBe(before);
  });

  onCard('nothing is written where the card can be, not even that they were read', async (card) => {
    card.mount('rw');
    const { card: root, lists } = await listed(card.mountPoint);
    const paths = lists.flatMap(({ files }) => files.map(({ path }) => join(card.mountPoint, path)));
    // relatime would note a reading of what was last read before it was written.
    for (const path of paths) utimesSync(path, new Date('2027-01-01T00:00:00Z'), lstatSync(path).mtime);
    // The driver of exFAT in user space is not told that a reading is not to be noted (FUSE hands it no O_NOATIME).
    const times = (path: string) => {
      const { atimeMs, mtimeMs, ctimeMs } = lstatSync(path);
      return fileSystem === 'exfat' ? [mtimeMs, ctimeMs] : [atimeMs, mtimeMs, ctimeMs];
    };
    const stats = () => paths.map(times);
    const [before, again] = [stats(), await listed(card.mountPoint)];
    const told = await Promise.all(again.lists.map((list) => read({ card: root, list })));
    expect(told.map(({ is }) => is)).toEqual(['read', 'read']);
    expect(stats()).toEqual(before);
  });

  onCard('of one that is pulled meanwhile nothing is taken, whatever lies in its folder then', async (card) => {
    card.mount('ro');
    const order = await orderOf(card.mountPoint, 'ascmhl');
    const told = await read(order, async (root, place) => {
      card.unmount(true);
      // The same list, with the same sizes and times, and other values.
      cpSync(folder(), card.mountPoint, { recursive: true });
      return readKnownList(root, place);
    });
    expect(told).toEqual({ is: 'unread', detail: 'the card was taken out while it was read' });
    expect(await read(order)).toEqual({ is: 'unread', detail: 'the card was taken out while it was read' });
  });

  onCard('of one that was put in for it nothing is taken', async (card) => {
    card.mount('ro');
    const order = await orderOf(card.mountPoint, 'ascmhl');
    card.unmount();
    card.inCamera((root) => rmSync(join(root, 'ascmhl'), { recursive: true }));
    card.inCamera((root) => historyByHand(root, 'SALT_B', [[{ path: 'B.MOV', size: 1, md5: 'a'.repeat(32) }]]));
    card.mount('ro');
    expect(await read(order)).toMatchObject({ is: 'unread' });
  });
});

describe('a reader that hangs', () => {
  const whyNot = whyNoCards('exfat');
  if (whyNot !== null) console.warn(`NOT CHECKED: lists on a card that hangs. None can be put in here: ${whyNot}`);

  /** The process that this card's file system lives in. */
  function driverOf(mountPoint: string): number {
    const isIt = (pid: string) => {
      try {
        return readFileSync(`/proc/${pid}/cmdline`, 'utf8').split('\0').includes(mountPoint);
      } catch {
        return false;
      }
    };
    const pid = Number(readdirSync('/proc').find((name) => /^\d+$/.test(name) && isIt(name)));
    if (!(pid > 0)) throw new Error(`no driver of ${mountPoint}`);
    return pid;
  }

  test.skipIf(whyNot !== null)(
    'costs one process, until it goes on; another card is read meanwhile',
    { timeout: 60_000 },
    async () => {
      const card = cardImage('exfat', 'SALT_A');
      cleanups.push(card.remove);
      card.inCamera(fill);
      card.mount('ro');
      const { card: root, lists } = await listed(card.mountPoint);
      const [list] = lists;
      if (list === undefined) throw new Error('there is a list');
      const driver = driverOf(card.mountPoint);
      process.kill(driver, 'SIGSTOP');
      cleanups.push(() => process.kill(driver, 'SIGCONT'));
      const reader = createCardListReader({ entry, withinMs: 3_000 });
      expect(await reader.read(root, list)).toEqual({ is: 'unread', detail: 'the card gave no answer' });
      expect(await reader.read(root, list)).toMatchObject({
        detail: 'the card still gives no answer to an earlier reading',
      });
      const other = await orderOf(folder(), 'ascmhl');
      const patient = createCardListReader({ entry });
      expect(await patient.read(other.card, other.list)).toMatchObject({ is: 'read' });
      process.kill(driver, 'SIGCONT');
      let told = await patient.read(root, list);
      expect(told).toMatchObject({ is: 'read' });
      // The one that hung is gone soon, and its card is asked again.
      for (let wait = 0; wait < 100; wait += 1) {
        told = await reader.read(root, list);
        if (told.is !== 'unread' || !told.detail.includes('still')) break;
        await sleep(50);
      }
      expect(told).not.toMatchObject({ detail: 'the card still gives no answer to an earlier reading' });
    },
  );
});

describe('a list that is not as it was listed', () => {
  test('is not read: written to before or meanwhile, or gone', async () => {
    const card = folder();
    const order = await orderOf(card, `${FOLDER}/day3.md5`);
    const list = join(card, FOLDER, 'day3.md5');
    const told = await read(order, async (root, place) => {
      const outcome = await readKnownList(root, place);
      nodeFs.appendFileSync(list, 'x');
      return outcome;
    });
    const changed = { is: 'unread', detail: `${FOLDER}/day3.md5 was changed meanwhile` };
    expect(told).toEqual(changed);
    expect(await read(order)).toEqual(changed);
    rmSync(list);
    expect(await read(order)).toMatchObject({ is: 'unread', detail: expect.stringContaining('ENOENT') });
  });

  test('nor is what another file system holds, mounted or linked there', async () => {
    const card = folder();
    const order = await orderOf(card, `${FOLDER}/day3.md5`);
    const { size, mtimeMs } = statSync(join(card, FOLDER, 'day3.md5'));
    const elsewhere = join(folder(), 'other.md5');
    writeFileSync(elsewhere, Buffer.alloc(size));
    utimesSync(elsewhere, mtimeMs / 1000, mtimeMs / 1000);
    rmSync(join(card, FOLDER, 'day3.md5'));
    symlinkSync(elsewhere, join(card, FOLDER, 'day3.md5'));
    expect(await read(order)).toMatchObject({ is: 'unread' });
    const other = { ...order, card: { ...order.card, device: order.card.device + 1n } };
    expect(await read(other)).toEqual({ is: 'unread', detail: 'the card was taken out while it was read' });
  });
});

describe('what is no list that can be used', () => {
  test('a name without a list, a damaged one, a list with lines that make no sense', async () => {
    const card = folder();
    writeFileSync(join(card, 'MD5SUMS'), Buffer.alloc(2000, 7));
    writeFileSync(join(card, 'day.mhl'), '<?xml version="1.0"?><hashlist version="2.0"><hashes><hash>');
    nodeFs.appendFileSync(join(card, FOLDER, 'day3.md5'), 'what is this\n');
    nodeFs.appendFileSync(join(card, 'ascmhl/0001_SALT_A_2027-02-11_090000Z.mhl'), ' ');
    const told = async (place: string) => read(await orderOf(card, place));
    expect(await told('MD5SUMS')).toMatchObject({ is: 'no-list' });
    expect(await told('day.mhl')).toEqual({
      is: 'unusable',
      detail: expect.stringContaining('day.mhl: It ends in the middle'),
    });
    expect(await told('ascmhl')).toEqual({ is: 'unusable', detail: expect.stringContaining('The chain has c4') });
    expect(await told(`${FOLDER}/day3.md5`)).toMatchObject({ is: 'read', gap: '1 of its 3 lines could not be read' });
  });

  test('more bytes, or files, than there are on a card', async () => {
    const card = folder();
    const { card: root, lists } = await listed(card);
    const list = lists.find(({ place }) => place === 'ascmhl');
    if (list === undefined) throw new Error('there is a history');
    const big = join(card, 'big.md5');
    writeFileSync(big, '');
    nodeFs.truncateSync(big, 64 * 1024 * 1024 + 1);
    expect(await read(await orderOf(card, 'big.md5'))).toEqual({
      is: 'unusable',
      detail: 'big.md5 has 67.1 MB, more than is read of a list on a card.',
    });
    const files = Array.from({ length: 200_001 }, (_, n) => ({ path: `${n}`, size: 1, sums: {} }));
    const many = await read({ card: root, list }, async () => ({
      ok: true,
      list: { kind: 'history', files, ignore: [] },
      gap: null,
    }));
    expect(many).toEqual({ is: 'unusable', detail: 'ascmhl names 200001 files, more than lie on any card.' });
  });
});

describe('the processes that read them', () => {
  /** Processes that answer, and end, when they are told to. */
  function processes() {
    const started: { mountPoint: string; answer: (told: unknown) => void; end: () => void; abandoned: boolean }[] = [];
    const ask = (_: string, { card }: CardListOrder): Asked => {
      const [answer, gone] = [Promise.withResolvers<unknown>(), Promise.withResolvers<void>()];
      const one = { mountPoint: card.mountPoint, answer: answer.resolve, end: gone.resolve, abandoned: false };
      started.push(one);
      const abandon = (): void => {
        one.abandoned = true;
        answer.resolve(null);
      };
      return { answer: answer.promise, gone: gone.promise, abandon };
    };
    return { started, reader: createCardListReader({ entry, ask }) };
  }
  const card = (mountPoint: string): CardRoot => ({ mountPoint, device: 1n, ino: 2n });
  const list: ListOnCard = { place: 'ascmhl', base: '', files: [] };

  test('one for each card, the lists of one card one after the other', async () => {
    const { started, reader } = processes();
    const [first, second] = [reader.read(card('/a'), list), reader.read(card('/a'), list)];
    void reader.read(card('/b'), list);
    expect(started.map(({ mountPoint }) => mountPoint)).toEqual(['/a', '/b']);
    started[0]?.answer({ is: 'no-list', detail: '1' });
    expect(await first).toEqual({ is: 'no-list', detail: '1' });
    started[0]?.end();
    await sleep(0);
    expect(started.map(({ mountPoint }) => mountPoint)).toEqual(['/a', '/b', '/a']);
    started[2]?.answer({ is: 'no-list', detail: '2' });
    expect(await second).toEqual({ is: 'no-list', detail: '2' });
  });

  test('a card that hangs is not asked again before its process is gone, and holds up no other', async () => {
    const { started, reader } = processes();
    const waits = reader.read(card('/hangs'), list);
    const behind = reader.read(card('/hangs'), list);
    started[0]?.answer(null);
    expect(await waits).toEqual({ is: 'unread', detail: 'the card gave no answer' });
    const still = { is: 'unread', detail: 'the card still gives no answer to an earlier reading' };
    expect(await behind).toEqual(still);
    expect(await reader.read(card('/hangs'), list)).toEqual(still);
    const other = reader.read(card('/b'), list);
    started[1]?.answer({ is: 'no-list', detail: 'b' });
    expect(await other).toEqual({ is: 'no-list', detail: 'b' });
    started[0]?.end();
    await sleep(0);
    void reader.read(card('/hangs'), list);
    expect(started.map(({ mountPoint }) => mountPoint)).toEqual(['/hangs', '/b', '/hangs']);
  });

  test('never more than four, and with four that hang nobody waits for ever', async () => {
    const { started, reader } = processes();
    const told = ['/a', '/b', '/c', '/d', '/e'].map((mountPoint) => reader.read(card(mountPoint), list));
    expect(started).toHaveLength(4);
    for (const one of started) one.answer(null);
    expect((await told[4])?.is).toBe('unread');
    expect(started).toHaveLength(4);
    started[0]?.end();
    await sleep(0);
    void reader.read(card('/e'), list);
    expect(started).toHaveLength(5);
  });

  test('are ended when the daemon ends', async () => {
    const { started, reader } = processes();
    const told = [reader.read(card('/a'), list), reader.read(card('/a'), list)];
    reader.stop();
    expect((await Promise.all(told)).map(({ is }) => is)).toEqual(['unread', 'unread']);
    expect(started.map(({ abandoned }) => abandoned)).toEqual([true]);
  });
});
