import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { CardStorePort } from '../../src/core/card-ports.ts';
import type { Inventory, InventoryFile } from '../../src/core/cards/inventory.ts';
import type { InventoryListHead, InventoryListPort } from '../../src/core/cards/inventory-list.ts';
import type { KnownListed } from '../../src/core/cards/known-list.ts';
import type { CataloguePort, LedgerPort } from '../../src/core/store-ports.ts';
import { someFile } from './catalogue.material.ts';

export interface CardSubject {
  catalogue: CataloguePort;
  ledger: LedgerPort;
  cards: CardStorePort & InventoryListPort;
  end(): Promise<void>;
}

const NS = 1_000_000n;
const SHOT = Date.UTC(2027, 1, 11, 10);

/** A file as it lies on a volume. */
const onVolume = (path: string, size: number, mtimeMs = SHOT, changes = {}) =>
  someFile(path, { size, mtimeNs: BigInt(mtimeMs) * NS, ...changes });

/** A file as it lies on a card. */
const onCard = (path: string, size: number | null, mtimeMs: number | null = SHOT): InventoryFile => ({
  path,
  size,
  mtimeMs,
});

/** A card of the nature documentary. */
function saltCard(id: string, changes: Partial<Inventory> = {}): Inventory {
  return {
    id,
    source: 'card',
    name: 'SALT_A',
    layout: 'DCIM',
    place: '/media/SALT_A',
    on: null,
    takenAt: SHOT,
    gap: null,
    files: [onCard('DCIM/100SALT/A001.MOV', 4_000_000_000), onCard('DCIM/100SALT/A001.XML', 900, null)],
    ...changes,
  };
}

export function cardsContract(name: string, make: () => Promise<CardSubject>): void {
  describe(`${name}: cards`, () => {
    let subject: CardSubject;
    beforeEach(async () => {
      subject = await make();
    });
    afterEach(() => subject.end());

    const pathsOf = async (files: InventoryFile[]) =>
      (await subject.catalogue.candidates(files)).map((found) => found.map(({ path }) => path));

    test('candidates have size and name, in any case, wherever they lie, in the order that was asked', async () => {
      await subject.catalogue.putFiles([
        onVolume('Saltmarsh/Day 1/a001.mov', 100),
        onVolume('Saltmarsh/Day 2/A001.MOV', 100, SHOT + 86_400_000),
        onVolume('Saltmarsh/Day 3/A001.MOV', 99),
        onVolume('Saltmarsh/Day 4/A002.MOV', 100, SHOT + 86_400_000),
        onVolume('Lock Keepers/A001.mov', 100, SHOT, { volume: 'mirror', state: 'arriving' }),
      ]);
      const [first, second] = await subject.catalogue.candidates([onCard('X/B.MOV', 7), onCard('DCIM/A001.MOV', 100)]);
      expect(first).toEqual([]);
      expect(second).toHaveLength(3);
      expect(second).toEqual(
        expect.arrayContaining([
          { volume: 'stripe', path: 'Saltmarsh/Day 1/a001.mov', size: 100, mtimeMs: SHOT, state: 'ready' },
          { volume: 'stripe', path: 'Saltmarsh/Day 2/A001.MOV', size: 100, mtimeMs: SHOT + 86_400_000, state: 'ready' },
          { volume: 'mirror', path: 'Lock Keepers/A001.mov', size: 100, mtimeMs: SHOT, state: 'arriving' },
        ]),
      );
    });

    test('under another name they have size and time, to 2 s as FAT keeps it; never beside one of the same name', async () => {
      await subject.catalogue.putFiles([
        onVolume('Saltmarsh/salt take 1.mov', 100, SHOT + 2000),
        onVolume('Saltmarsh/salt take 2.mov', 100, SHOT - 2001),
        onVolume('Saltmarsh/salt take 3.mov', 101, SHOT),
      ]);
      expect(await pathsOf([onCard('A001.MOV', 100)])).toEqual([['Saltmarsh/salt take 1.mov']]);
      expect(await pathsOf([onCard('A001.MOV', 100, null)])).toEqual([[]]);
      await subject.catalogue.putFiles([onVolume('Saltmarsh/A001.MOV', 100, SHOT + 9e6)]);
      expect(await pathsOf([onCard('A001.MOV', 100)])).toEqual([['Saltmarsh/A001.MOV']]);
    });

    test('frames of one size are never taken for one another by their time', async () => {
      const frame = (n: number) => `Saltmarsh/seq/A_${String(n).padStart(4, '0')}.dpx`;
      await subject.catalogue.putFiles(Array.from({ length: 100 }, (_, n) => onVolume(frame(n), 8_000_000)));
      expect(await pathsOf([onCard('seq/B_0001.dpx', 8_000_000)])).toEqual([[]]);
      expect(await pathsOf([onCard('seq/A_0099.DPX', 8_000_000)])).toEqual([[frame(99)]]);
    });

    test('without a size the name decides; at most 20 come back', async () => {
      await subject.catalogue.putFiles([
        ...Array.from({ length: 30 }, (_, n) => onVolume(`Lock Keepers/${n}/C0001.MP4`, n)),
        onVolume('Saltmarsh/b.mov', 1),
      ]);
      const [one, other, none] = await subject.catalogue.candidates([
        onCard('c0001.mp4', null, null),
        onCard('Day/B.MOV', null, null),
        onCard('z.mov', null, null),
      ]);
      expect([one?.length, other?.map(({ path }) => path), none]).toEqual([20, ['Saltmarsh/b.mov'], []]);
    });

    test('what was thrown away is no copy', async () => {
      await subject.catalogue.putFiles([
        onVolume('.Trash-1000/files/A001.MOV', 100, SHOT, { area: 'trash', project: null }),
      ]);
      expect(await pathsOf([onCard('A001.MOV', 100), onCard('A001.MOV', null, null)])).toEqual([[], []]);
    });

    test('names of any bytes are found: newline, quote, no UTF-8', async () => {
      const names = ['take\n1.mov', `it's "so".mov`, 'caf\uF7E9.mov', '%_*.mov'];
      await subject.catalogue.putFiles(names.map((file) => onVolume(`Saltmarsh/${file}`, 5)));
      const found = [
        ...(await pathsOf(names.map((file) => onCard(`DCIM/${file}`, 5)))),
        ...(await pathsOf(names.map((file) => onCard(file, null, null)))),
      ];
      expect(found).toEqual([...names, ...names].map((file) => [`Saltmarsh/${file}`]));
    });

    test('more files than fit one call are answered in their order', async () => {
      await subject.catalogue.putFiles(Array.from({ length: 1500 }, (_, n) => onVolume(`Saltmarsh/c${n}.mov`, n)));
      const wanted = Array.from({ length: 1500 }, (_, n) => onCard(`c${1499 - n}.mov`, 1499 - n));
      expect(await pathsOf(wanted)).toEqual(wanted.map(({ path }) => [`Saltmarsh/${path}`]));
      const places = wanted.map(({ path }) => ({ volume: 'stripe', path: `Saltmarsh/${path}` }));
      expect((await subject.cards.filesAt(places)).map(({ path }) => path)).toEqual(places.map(({ path }) => path));
    });

    test('what lies at a place is told in any state and size, and nothing of a place where nothing is known', async () => {
      await subject.catalogue.putFiles([onVolume('Saltmarsh/a.mov', 3, SHOT, { state: 'refused' })]);
      const places = [
        { volume: 'mirror', path: 'Saltmarsh/a.mov' },
        { volume: 'stripe', path: 'Saltmarsh/a.mov' },
        { volume: 'stripe', path: 'a.mov' },
      ];
      expect(await subject.cards.filesAt(places)).toEqual([
        { volume: 'stripe', path: 'Saltmarsh/a.mov', size: 3, mtimeMs: SHOT, state: 'refused' },
      ]);
    });

    test('inventories come back as they were put, newest first, one with the same id replaced', async () => {
      const first = saltCard('one');
      const second = saltCard('two', { takenAt: SHOT + 1, gap: 'EIO: i/o error', files: [] });
      const manifest = saltCard('three', {
        source: 'manifest',
        layout: null,
        on: { volume: 'stripe', base: 'Saltmarsh/caf\uF7E9\n' },
        takenAt: SHOT + 2,
        files: [onCard('a\n"b.mov', null, null)],
      });
      for (const inventory of [first, manifest, second]) await subject.ledger.putInventory(inventory);
      expect(await subject.ledger.inventories()).toEqual([manifest, second, first]);
      const grown = saltCard('one', { takenAt: SHOT + 3, files: [onCard('x.mov', 1)] });
      await subject.ledger.putInventory(grown);
      expect(await subject.ledger.inventories()).toEqual([grown, manifest, second]);
      expect(await subject.cards.inventoryHeads()).toEqual([grown, manifest, second].map(({ files, ...head }) => head));
      expect(await subject.cards.inventoryFiles('one')).toEqual(grown.files);
      expect(await subject.cards.inventoryFiles('nobody')).toEqual([]);
    });

    test('a dropped one is gone with its note, and dropped once', async () => {
      await subject.ledger.putInventory(saltCard('one'));
      await subject.cards.putCardNote({ key: 'one', text: 'had arrived' });
      await subject.cards.putCardNote({ key: 'copied', text: '[]' });
      expect(await subject.ledger.dropInventory('on')).toBe(false);
      expect(await subject.ledger.dropInventory('one')).toBe(true);
      expect(await subject.ledger.dropInventory('one')).toBe(false);
      expect(await subject.ledger.inventories()).toEqual([]);
      await subject.cards.putCardNote({ key: 'copied', text: '[1]' });
      expect(await subject.cards.cardNotes()).toEqual([{ key: 'copied', text: '[1]' }]);
    });

    test('what was said of a card is kept, replaced, and goes with its inventory or by itself', async () => {
      const said = (inventory: string, more = {}) => ({
        ...{ inventory, saidAt: SHOT, saidBy: 'mina', endedAt: null, lacking: 0 },
        ...more,
      });
      for (const id of ['two', 'one']) {
        await subject.ledger.putInventory(saltCard(id));
        await subject.cards.putKeptCard(said(id));
      }
      await subject.cards.putKeptCard(said('one', { endedAt: SHOT + 5, lacking: 3 }));
      expect(await subject.cards.keptCards()).toEqual([said('one', { endedAt: SHOT + 5, lacking: 3 }), said('two')]);
      expect(await subject.cards.dropKeptCard('one')).toBe(true);
      expect(await subject.cards.dropKeptCard('one')).toBe(false);
      await subject.ledger.dropInventory('two');
      expect(await subject.cards.keptCards()).toEqual([]);
    });

    describe('lists on a card', () => {
      const head = (inventory: string, place: string, changes: Partial<InventoryListHead> = {}): InventoryListHead => ({
        ...{ inventory, place, base: '', kind: 'history', state: 'whole', detail: null, gap: null },
        ...{ stamp: '[1]', listed: 1, readAt: SHOT, ...changes },
      });
      const listed = (path: string, size: number | null = 3): KnownListed => ({
        path,
        size,
        sums: { md5: 'a1', c4: 'c4X' },
      });
      const put = (one: InventoryListHead, ...files: KnownListed[]) => subject.cards.putInventoryList(one, files);

      test('are kept as they were read, by card and place, names of any bytes among them', async () => {
        for (const id of ['two', 'one']) await subject.ledger.putInventory(saltCard(id));
        const files = [listed('caf\uF7E9\n"1".mov'), listed('b.mov', null)];
        await put(head('two', 'ascmhl'), listed('c.mov'));
        await put(head('one', 'z.md5', { kind: 'list', gap: '2 of its 4 lines could not be read' }), ...files);
        await put(head('one', 'ascmhl'));
        expect(await subject.cards.inventoryLists()).toEqual([
          head('one', 'ascmhl'),
          head('one', 'z.md5', { kind: 'list', gap: '2 of its 4 lines could not be read' }),
          head('two', 'ascmhl'),
        ]);
        expect(await subject.cards.inventoryListFiles('one', 'z.md5')).toEqual(files);
        expect(await subject.cards.inventoryListFiles('one', 'nobody')).toEqual([]);
      });

      test('what was read whole is replaced by what was read whole alone', async () => {
        await subject.ledger.putInventory(saltCard('one'));
        const unread = head('one', 'ascmhl', { state: 'unread', detail: 'the card was taken out', stamp: '' });
        const heads = async () => (await subject.cards.inventoryLists()).map(({ state, stamp }) => [state, stamp]);
        await put(unread);
        expect(await heads()).toEqual([['unread', '']]);
        await put(head('one', 'ascmhl'), listed('a.mov'));
        for (const state of ['unread', 'unusable'] as const) await put({ ...unread, state });
        expect(await heads()).toEqual([['whole', '[1]']]);
        expect(await subject.cards.inventoryListFiles('one', 'ascmhl')).toEqual([listed('a.mov')]);
        await put(head('one', 'ascmhl', { stamp: '[2]' }), listed('b.mov'));
        expect(await heads()).toEqual([['whole', '[2]']]);
        expect(await subject.cards.inventoryListFiles('one', 'ascmhl')).toEqual([listed('b.mov')]);
      });

      test('go with their card, and are not kept for one that is gone', async () => {
        for (const id of ['two', 'one']) {
          await subject.ledger.putInventory(saltCard(id));
          await put(head(id, 'ascmhl'), listed('a.mov'));
        }
        await subject.ledger.putInventory(saltCard('one', { takenAt: SHOT + 1 }));
        await subject.ledger.dropInventory('two');
        await put(head('two', 'ascmhl'), listed('a.mov'));
        expect((await subject.cards.inventoryLists()).map(({ inventory }) => inventory)).toEqual(['one']);
        expect(await subject.cards.inventoryListFiles('two', 'ascmhl')).toEqual([]);
      });

      test('of 200,000 files are kept whole', { timeout: 30_000 }, async () => {
        await subject.ledger.putInventory(saltCard('full'));
        const files = Array.from({ length: 200_000 }, (_, n) => listed(`PRIVATE/CLIPS/F_${n}.ari`, n));
        await subject.cards.putInventoryList(head('full', 'ascmhl', { listed: files.length }), files);
        expect(await subject.cards.inventoryListFiles('full', 'ascmhl')).toEqual(files);
      });
    });

    test('a card of 50,000 files is kept whole', { timeout: 30_000 }, async () => {
      const files = Array.from({ length: 50_000 }, (_, n) =>
        onCard(`PRIVATE/CLIPS/F_${n}.ari`, 12_000_000 + n, SHOT + n),
      );
      await subject.ledger.putInventory(saltCard('full', { files }));
      expect(await subject.cards.inventoryFiles('full')).toEqual(files);
    });
  });
}
