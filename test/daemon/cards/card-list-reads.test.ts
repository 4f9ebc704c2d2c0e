import { beforeEach, describe, expect, test } from 'vitest';
import type { InventoryFile } from '../../../src/core/cards/inventory.ts';
import type { CardListOutcome, CardRoot, ListOnCard } from '../../../src/core/cards/inventory-list.ts';
import { type CardEntry, newEntry, noteOf, restoreNote } from '../../../src/daemon/cards/card-entry.ts';
import { type CardListReads, createCardListReads } from '../../../src/daemon/cards/card-list-reads.ts';
import { type FakeLedger, fakeLedger } from '../../fakes/ledger.ts';

const NOON = Date.UTC(2027, 1, 11, 12);
const HEAD = {
  ...({ id: 'salt', source: 'card', name: 'SALT_A', layout: 'DCIM', place: '/media/SALT_A' } as const),
  ...{ on: null, takenAt: NOON, gap: null },
};
const WHOLE: CardListOutcome = {
  is: 'read',
  list: { kind: 'history', files: [{ path: 'A001.MOV', size: 3, sums: { md5: 'aa' } }], ignore: [] },
  gap: null,
};
const UNREAD: CardListOutcome = { is: 'unread', detail: 'the card was taken out while it was read' };
const UNUSABLE: CardListOutcome = { is: 'unusable', detail: 'ascmhl: the chain has c4X.' };

let ledger: FakeLedger;
let entries: CardEntry[];
let outcomes: CardListOutcome[];
let asked: { card: CardRoot; place: string }[];
let warned: string[];
let reads: CardListReads;

beforeEach(async () => {
  ledger = fakeLedger();
  await ledger.putInventory({ ...HEAD, files: [] });
  entries = [{ ...newEntry(HEAD, []), mountedAt: '/media/SALT_A' }];
  [outcomes, asked, warned] = [[], [], []];
  reads = begin();
});

function begin(): CardListReads {
  return createCardListReads({
    book: { entries: () => entries },
    cardLists: {
      async read(card, { place }) {
        asked.push({ card, place });
        return outcomes.shift() ?? WHOLE;
      },
    },
    keptLists: ledger,
    exclusive: (work) => work(),
    clock: { now: () => NOON },
    log: { debug() {}, info() {}, warn: (_, message) => void warned.push(message), error() {} },
    digest: (text) => text,
  });
}

const file = (path: string, mtimeMs = 5): InventoryFile => ({ path, size: 1, mtimeMs });
const listAt = (place: string, mtimeMs = 5): ListOnCard => ({ place, base: '', files: [file(place, mtimeMs)] });

/** A look at the card, with these lists on it. */
async function look(...lists: ListOnCard[]): Promise<void> {
  const card = { layout: 'DCIM', name: 'SALT_A', key: 'uuid', files: [], gap: null };
  reads.seen('/media/SALT_A', { ...card, device: 27n, ino: 2n, lists });
  await new Promise((resolve) => setImmediate(resolve));
}

const kept = async () => (await ledger.inventoryLists()).map(({ place, state, detail }) => [place, state, detail]);
const inMemory = () => [...(entries[0]?.lists.values() ?? [])].map(({ head }) => [head.place, head.state, head.detail]);

describe('lists of a card that is in', () => {
  test('are read once as they are, and again when any of their files is another', async () => {
    await look(listAt('ascmhl'), listAt('MD5SUMS'));
    expect(asked).toEqual(
      ['ascmhl', 'MD5SUMS'].map((place) => ({ card: { mountPoint: '/media/SALT_A', device: 27n, ino: 2n }, place })),
    );
    await look(listAt('ascmhl'), listAt('MD5SUMS'));
    expect(asked).toHaveLength(2);
    await look(listAt('ascmhl', 6), listAt('MD5SUMS'));
    expect(asked.map(({ place }) => place)).toEqual(['ascmhl', 'MD5SUMS', 'ascmhl']);
    expect(await kept()).toEqual([
      ['MD5SUMS', 'whole', null],
      ['ascmhl', 'whole', null],
    ]);
    expect(await ledger.inventoryListFiles('salt', 'ascmhl')).toEqual([
      { path: 'A001.MOV', size: 3, sums: { md5: 'aa' } },
    ]);
  });

  test('one that was not read is asked for with every look, and said once', async () => {
    outcomes = [UNREAD, UNREAD];
    await look(listAt('ascmhl'));
    await look(listAt('ascmhl'));
    expect([asked.length, warned.length]).toEqual([2, 1]);
    expect(await kept()).toEqual([['ascmhl', 'unread', 'the card was taken out while it was read']]);
    await look(listAt('ascmhl'));
    expect([await kept(), inMemory()]).toEqual([[['ascmhl', 'whole', null]], [['ascmhl', 'whole', null]]]);
  });

  test('what was read whole stands when it cannot be read, or used, any more', async () => {
    await look(listAt('ascmhl'));
    outcomes = [UNREAD, UNUSABLE];
    await look(listAt('ascmhl', 6));
    await look(listAt('ascmhl', 7));
    expect([await kept(), inMemory()]).toEqual([[['ascmhl', 'whole', null]], [['ascmhl', 'whole', null]]]);
    expect(warned).toHaveLength(2);
    // As it is now it gave nothing: it is not asked again before it is another.
    await look(listAt('ascmhl', 7));
    expect(asked).toHaveLength(3);
  });

  test('one that cannot be relied on is kept as that; what only is called a list is nothing', async () => {
    outcomes = [UNUSABLE, { is: 'no-list', detail: 'It is empty.' }];
    await look(listAt('ascmhl'), listAt('MD5SUMS'));
    await look(listAt('ascmhl'), listAt('MD5SUMS'));
    expect(asked).toHaveLength(2);
    expect(await kept()).toEqual([['ascmhl', 'unusable', 'ascmhl: the chain has c4X.']]);
    expect(warned).toEqual(['Not usable as a list: ascmhl on card SALT_A: ascmhl: the chain has c4X.']);
  });

  test('nothing is kept of a card that was dropped meanwhile, or when the daemon ends', async () => {
    const looking = look(listAt('ascmhl'));
    entries = [];
    await looking;
    expect(await kept()).toEqual([]);
    entries = [{ ...newEntry(HEAD, []), mountedAt: '/media/SALT_A' }];
    const ending = look(listAt('ascmhl'));
    reads.stop();
    await ending;
    expect(await kept()).toEqual([]);
  });

  test('of very many only the first are read, and that is said once', async () => {
    const lists = Array.from({ length: 101 }, (_, n) => listAt(`${n}.md5`));
    await look(...lists);
    await look(...lists);
    expect(asked).toHaveLength(100);
    expect(warned).toEqual(['Card SALT_A has 101 lists; only the first 100 are read.']);
  });

  test('a card that is not known is not asked', async () => {
    reads.seen('/media/SALT_B', {
      layout: 'DCIM',
      name: 'B',
      key: 'b',
      files: [],
      gap: null,
      device: 1n,
      ino: 1n,
      lists: [listAt('ascmhl')],
    });
    expect(asked).toEqual([]);
  });
});

test('what was found beside a list is kept in the note of its card', async () => {
  await look(listAt('ascmhl'));
  const [entry] = entries;
  const list = entry?.lists.get('ascmhl');
  if (entry === undefined || list === undefined) throw new Error('it was read');
  const check = { mark: 'm', altered: 1 } as unknown as NonNullable<typeof list.check>;
  list.check = check;
  const next = newEntry(HEAD, []);
  next.lists.set('ascmhl', { head: list.head, check: null });
  restoreNote(next, noteOf(entry));
  expect(next.lists.get('ascmhl')?.check).toEqual(check);
});
