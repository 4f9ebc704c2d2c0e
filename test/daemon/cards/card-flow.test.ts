import { createHash } from 'node:crypto';
import { beforeEach, describe, expect, test } from 'vitest';
import type { CardStorePort, CopyLookPort } from '../../../src/core/card-ports.ts';
import { NO_FILES, sumTallies, tallyOf, type VerifiedCopy } from '../../../src/core/cards/copy-tally.ts';
import type { InventoryFile } from '../../../src/core/cards/inventory.ts';
import { Fault } from '../../../src/core/fault.ts';
import type { FileRecord, FileStat } from '../../../src/core/model.ts';
import type { ManifestOutcome } from '../../../src/core/root-port.ts';
import type { CataloguePort } from '../../../src/core/store-ports.ts';
import { type CardFlow, createCardFlow } from '../../../src/daemon/cards/card-flow.ts';
import type { CardRead } from '../../../src/daemon/cards/inventory-taker.ts';
import { createStoreTrouble } from '../../../src/daemon/store-trouble.ts';
import { someFile } from '../../contracts/catalogue.material.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { type FakeClock, fakeClock } from '../../fakes/clock.ts';
import { type FakeLedger, fakeLedger } from '../../fakes/ledger.ts';

const NOON = Date.UTC(2027, 1, 11, 12);
const SHOT = Date.UTC(2027, 1, 11, 9);
const SECOND = 1000;
const HOUR = 3_600_000;
const STALLED_AFTER = 600;

/** A take as it lies on a card; each has a size of its own above a megabyte, so that size and name mean this take. */
const take = (n: number, changes: Partial<InventoryFile> = {}): InventoryFile => ({
  path: `DCIM/100SALTM/A${String(n).padStart(3, '0')}.MOV`,
  size: 4_000_000 + n,
  mtimeMs: SHOT + n * 60_000,
  ...changes,
});

/** The same as it has arrived on the volume. */
function arrived(file: InventoryFile, changes: Partial<FileRecord> = {}): FileRecord {
  const mtimeNs = BigInt(file.mtimeMs ?? 0) * 1_000_000n;
  const ctimeNs = BigInt(NOON) * 1_000_000n;
  return someFile(`Saltmarsh/SALT_A/${file.path}`, { size: file.size ?? 0, mtimeNs, ctimeNs, ...changes });
}

const reading = (files: InventoryFile[], changes: Partial<CardRead> = {}): CardRead => ({
  layout: 'DCIM',
  name: 'SALT_A',
  key: 'uuid 1A2B-3C4D',
  ...{ device: 27n, ino: 1n, lists: [] },
  files,
  gap: null,
  ...changes,
});

interface World {
  clock: FakeClock;
  ledger: FakeLedger;
  catalogue: CataloguePort & Pick<CardStorePort, 'filesAt'>;
  /** How many files the catalogue was asked for, call by call. */
  asked: number[];
  manifests: Map<string, ManifestOutcome | Error>;
  manifestsRead: string[];
  warned: string[];
  complete: boolean;
  live: boolean;
  copiesAt: CopyLookPort['copiesAt'];
}

function newWorld(): World {
  const ledger = fakeLedger();
  const clock = fakeClock(NOON);
  const catalogue = fakeCatalogue(ledger, clock.now);
  const asked: number[] = [];
  const counted = {
    ...catalogue,
    candidates: (files: InventoryFile[]) => {
      asked.push(files.length);
      return catalogue.candidates(files);
    },
  };
  return {
    clock,
    ledger,
    catalogue: counted,
    asked,
    manifests: new Map(),
    manifestsRead: [],
    warned: [],
    complete: true,
    live: true,
    copiesAt: async () => NO_FILES,
  };
}

function flowIn(world: World): CardFlow {
  const { clock, ledger, catalogue } = world;
  const keep = (_: object, message: string) => void world.warned.push(message);
  const log = { debug() {}, info() {}, warn: keep, error: keep };
  const root = {
    async manifest({ path }: FileStat): Promise<ManifestOutcome> {
      world.manifestsRead.push(path);
      const outcome = world.manifests.get(path) ?? new Error('the volume is not there');
      if (outcome instanceof Error) throw outcome;
      return outcome;
    },
  };
  return createCardFlow({
    volumes: () => [
      {
        name: 'stripe',
        path: '/media/stripe',
        root,
        complete: () => world.complete,
        live: () => world.live,
        starting: () => !world.complete,
      },
    ],
    catalogue,
    ledger,
    store: { ...ledger, filesAt: catalogue.filesAt },
    look: { copiesAt: world.copiesAt, copiesBelow: async () => NO_FILES },
    lists: { read: async () => ({ ok: false, reason: 'unusable', detail: 'no list' }) },
    cardLists: { read: async () => ({ is: 'unread', detail: 'no list' }) },
    keptLists: ledger,
    contents: { versionsAt: async () => [], versionsBelow: async () => [], putRead: async () => {} },
    reader: { readBack: () => ({ pace() {}, end: Promise.resolve({ ended: 'done' }) }) },
    wantedCopies: () => 2,
    pace: () => ({ paused: false, ceilingBps: null }),
    trouble: createStoreTrouble(clock, log),
    clock,
    log,
    stalledAfter: STALLED_AFTER,
    digest: (text) => createHash('sha256').update(text).digest('hex'),
    changed: () => {},
  });
}

/** What came of each card: its state, and files by verdict. */
function told(flow: CardFlow) {
  return flow.current().cards.map(({ state, reconciliation, wasComplete, stalled }) => ({
    state,
    wasComplete,
    stalled,
    files: Object.fromEntries(
      Map.groupBy(reconciliation.files, ({ verdict }) => verdict)
        .entries()
        .map(([verdict, files]) => [verdict, files.length]),
    ),
  }));
}

let world: World;
let flow: CardFlow;
beforeEach(async () => {
  world = newWorld();
  flow = flowIn(world);
  await flow.start();
});

async function read(
  files: InventoryFile[],
  changes: Partial<CardRead> = {},
  mountPoint = '/media/SALT_A',
): Promise<void> {
  flow.read(mountPoint, reading(files, changes));
  await world.clock.advance(SECOND);
}

async function arrive(...files: FileRecord[]): Promise<void> {
  await world.catalogue.putFiles(files);
  flow.noticed('stripe', files);
  await world.clock.advance(2 * SECOND);
}

async function leave(mountPoint = '/media/SALT_A'): Promise<void> {
  flow.gone(mountPoint);
  await world.clock.advance(SECOND);
}

async function restart(): Promise<void> {
  await flow.stop();
  flow = flowIn(world);
  await flow.start();
}

describe('a card and its copy', () => {
  test('seen, arriving one by one, complete', async () => {
    await read([take(1), take(2)]);
    expect(told(flow)).toMatchObject([{ state: 'mounted', wasComplete: false, files: { missing: 2 } }]);
    await arrive(arrived(take(1)));
    expect(told(flow)).toMatchObject([{ files: { arrived: 1, missing: 1 } }]);
    await arrive(arrived(take(2)));
    expect(told(flow)).toMatchObject([{ wasComplete: true, files: { arrived: 2 } }]);
  });

  test('taken out half-way: what is missing stays known, over a restart too', async () => {
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)));
    await leave();
    expect(told(flow)).toMatchObject([{ state: 'gone', files: { arrived: 1, missing: 1 } }]);
    expect(flow.current().cards[0]?.goneSince).toBe(world.clock.now() - SECOND);
    await restart();
    expect(told(flow)).toMatchObject([{ state: 'gone', files: { arrived: 1, missing: 1 } }]);
  });

  test('nothing more of it comes: broken off after as long as any copy, and not before every volume was read', async () => {
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)));
    await world.clock.advance((STALLED_AFTER - 5) * SECOND);
    expect(told(flow)[0]?.stalled).toBe(false);
    await world.clock.advance(10 * SECOND);
    expect(told(flow)[0]?.stalled).toBe(true);
    world.complete = false;
    expect(told(flow)[0]?.stalled).toBe(false);
    world.complete = true;
    await arrive(arrived(take(2)));
    expect(told(flow)[0]?.stalled).toBe(false);
  });

  test('what had arrived and is taken away later is removed, not missing; also when that was known before a restart', async () => {
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)), arrived(take(2)));
    await leave();
    await restart();
    flow.touched();
    await world.clock.advance(2 * SECOND);
    await world.catalogue.forget('stripe', [arrived(take(1)).path]);
    flow.touched();
    // Asked just now, it is asked again by itself.
    await world.clock.advance(40 * SECOND);
    expect(told(flow)).toMatchObject([{ wasComplete: true, files: { removed: 1, arrived: 1 } }]);
  });

  test('what is kept of an earlier reading says nothing of another', async () => {
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)));
    await leave();
    await flow.stop();
    const [kept] = await world.ledger.inventories();
    if (kept === undefined) throw new Error('nothing is kept');
    await world.ledger.putInventory({ ...kept, takenAt: kept.takenAt + 1, files: [take(7), take(8)] });
    flow = flowIn(world);
    await flow.start();
    expect(told(flow)).toMatchObject([{ files: { missing: 2 } }]);
  });

  test('of a card that was in when the daemon was killed it is not known when it left', async () => {
    await read([take(1)]);
    await leave();
    await read([take(1)]);
    await world.clock.advance(15 * SECOND);
    flow.touched();
    await world.clock.advance(15 * SECOND);
    // No stop: a new one takes over what the ledger has.
    flow = flowIn(world);
    await flow.start();
    expect(told(flow)).toMatchObject([{ state: 'gone' }]);
    expect(flow.current().cards[0]?.goneSince).toBeNull();
  });

  test('is shown for a day after it was whole and gone; then it is only kept, and comes back with its card', async () => {
    await read([take(1)]);
    await arrive(arrived(take(1)));
    await world.clock.advance(48 * HOUR);
    expect(told(flow)).toMatchObject([{ state: 'mounted' }]);
    await leave();
    await world.clock.advance(23 * HOUR);
    expect(told(flow)).toMatchObject([{ state: 'gone', wasComplete: true }]);
    await world.clock.advance(2 * HOUR);
    expect(told(flow)).toEqual([]);
    expect((await flow.all()).map(({ reconciliation }) => reconciliation.files.map(({ verdict }) => verdict))).toEqual([
      ['arrived'],
    ]);
    await restart();
    expect(told(flow)).toEqual([]);
    await read([take(1)]);
    expect(told(flow)).toMatchObject([{ state: 'mounted', wasComplete: true, files: { arrived: 1 } }]);
  });

  test('while its volume is away all is as last seen, and nothing becomes complete', async () => {
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)));
    world.live = false;
    await arrive(arrived(take(2)));
    expect(told(flow)).toMatchObject([{ wasComplete: false, files: { arrived: 2 } }]);
    expect(flow.current().cards[0]?.notLive).toEqual([{ volume: 'stripe', state: 'away' }]);
    world.complete = false;
    expect(flow.current().cards[0]?.notLive).toEqual([{ volume: 'stripe', state: 'starting' }]);
    [world.live, world.complete] = [true, true];
    flow.swept('stripe');
    await world.clock.advance(40 * SECOND);
    expect(told(flow)).toMatchObject([{ wasComplete: true }]);
    expect(flow.current().cards[0]?.notLive).toEqual([]);
  });

  test('what could not be read whole is never complete, and stays told', async () => {
    await read([take(1)], { gap: 'DCIM/101SALTM cannot be read (EIO)' });
    await arrive(arrived(take(1)));
    await leave();
    await world.clock.advance(48 * HOUR);
    expect(told(flow)).toMatchObject([{ state: 'gone', wasComplete: false, files: { arrived: 1 } }]);
    await read([take(1)]);
    expect(told(flow)).toMatchObject([{ state: 'mounted', wasComplete: true }]);
    // It was in a camera since: that it was complete says nothing of what is on it now.
    await leave();
    await read([take(1)], { gap: 'DCIM/101SALTM cannot be read (EIO)' });
    await leave();
    await world.clock.advance(48 * HOUR);
    expect(told(flow)).toMatchObject([{ state: 'gone', wasComplete: false }]);
    await read([take(1)]);
    expect(told(flow)).toMatchObject([{ state: 'mounted', wasComplete: true }]);
  });

  test('put in elsewhere, with nothing but files of the camera anew: it was complete, also when its footage is gone', async () => {
    await read([take(1)]);
    await arrive(arrived(take(1)));
    await leave();
    await world.catalogue.forget('stripe', [arrived(take(1)).path]);
    await read([take(1), { path: 'MISC/INDEX.DAT', size: 3, mtimeMs: SHOT }], {}, '/media/SALT_A1');
    await world.clock.advance(40 * SECOND);
    expect(told(flow)).toMatchObject([{ state: 'mounted', wasComplete: true, files: { removed: 1, missing: 1 } }]);
  });

  test('one that is incomplete is shown for as long as it is', async () => {
    await read([take(1)]);
    await leave();
    await world.clock.advance(30 * 24 * HOUR);
    expect(told(flow)).toMatchObject([{ state: 'gone', files: { missing: 1 } }]);
  });

  test('what lies on a volume that is no longer configured is no arrival', async () => {
    await read([take(1)]);
    await arrive(arrived(take(1), { volume: 'sold' }));
    expect(told(flow)).toMatchObject([{ files: { missing: 1 } }]);
  });
});

describe('the same card or another', () => {
  test('read again unchanged: nothing is written', async () => {
    await read([take(1)]);
    const kept = await world.ledger.inventories();
    await world.clock.advance(60 * SECOND);
    await read([take(1)]);
    expect(await world.ledger.inventories()).toEqual(kept);
  });

  test('recorded on: the same inventory, and what is new is waited for', async () => {
    await read([take(1)]);
    await arrive(arrived(take(1)));
    await read([take(1), take(2)]);
    expect(told(flow)).toMatchObject([{ wasComplete: false, files: { arrived: 1, missing: 1 } }]);
    await world.clock.advance((STALLED_AFTER + 1) * SECOND);
    expect(told(flow)).toMatchObject([{ stalled: true }]);
    // A camera that is attached, and records: the last take grows, and its copy cannot have begun long ago.
    await read([take(1), take(2, { size: 9_000_000, mtimeMs: SHOT + HOUR })]);
    expect(await world.ledger.inventories()).toHaveLength(1);
    expect(told(flow)).toMatchObject([{ stalled: false }]);
    await leave();
    await read([take(1), take(2, { size: 9_000_000, mtimeMs: SHOT + HOUR }), take(3)]);
    expect(await world.ledger.inventories()).toHaveLength(1);
  });

  test('the very first take still grows', async () => {
    await read([take(1)]);
    await read([take(1, { size: 9_000_000, mtimeMs: SHOT + HOUR })]);
    expect(await world.ledger.inventories()).toHaveLength(1);
  });

  test('formatted in its reader: what was on it is gone', async () => {
    await read([take(1)]);
    await read([take(5)]);
    expect(told(flow).map(({ state }) => state)).toEqual(['mounted', 'gone']);
    await read([]);
    expect(told(flow).map(({ state }) => state)).toEqual(['gone', 'gone']);
  });

  test('formatted and filled anew under the same names: another, and the first stays incomplete', async () => {
    await read([take(1), take(2)]);
    await leave();
    const later = (n: number) => take(n, { size: 5_000_000 + n, mtimeMs: SHOT + 24 * HOUR + n });
    await read([later(1), later(2)]);
    expect(told(flow)).toMatchObject([
      { state: 'mounted', files: { missing: 2 } },
      { state: 'gone', files: { missing: 2 } },
    ]);
  });

  test('two cards of one label and size are two, and both can be in', async () => {
    await read([take(1)]);
    await read([take(7)], {}, '/media/SALT_A1');
    expect(told(flow).map(({ state }) => state)).toEqual(['mounted', 'mounted']);
    await leave('/media/SALT_A1');
    expect(told(flow).map(({ state }) => state)).toEqual(['mounted', 'gone']);
  });

  test('pulled while it is read: what was seen is kept with its gap, and made whole by the next reading', async () => {
    await read([take(1)], { gap: 'the card was taken out while it was read' });
    await leave();
    expect(flow.current().cards[0]?.reconciliation.inventory.gap).toBe('the card was taken out while it was read');
    await read([take(1), take(2)]);
    expect(told(flow)).toMatchObject([{ state: 'mounted', files: { missing: 2 } }]);
    expect(flow.current().cards[0]?.reconciliation.inventory.gap).toBeNull();
    // A reading that breaks off later says less than is known.
    await leave();
    await read([take(2)], { gap: 'it gave no answer for 20 s' });
    expect(told(flow)).toMatchObject([{ state: 'mounted', files: { missing: 2 } }]);
    // It was in a camera meanwhile: more may be on it.
    expect(flow.current().cards[0]?.reconciliation.inventory.gap).toBe('it gave no answer for 20 s');
  });

  test('pulled while it is read again: the reading since it was put in stands', async () => {
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)), arrived(take(2)));
    for (const files of [[take(1)], [take(1), take(2)]]) {
      await read(files, { gap: 'the card was taken out while it was read' });
      expect(flow.current().cards[0]?.reconciliation.inventory.gap).toBeNull();
      expect(told(flow)).toMatchObject([{ wasComplete: true, files: { arrived: 2 } }]);
    }
    // Recorded on, and not all of that was read.
    await read([take(1), take(2), take(3)], { gap: 'the card was taken out while it was read' });
    expect(flow.current().cards[0]?.reconciliation.inventory.gap).toBe('the card was taken out while it was read');
  });

  test('what was taken from the card and has not arrived is still waited for', async () => {
    await read([take(1), take(2), take(3)]);
    await read([take(1), take(3)]);
    expect(told(flow)).toMatchObject([{ files: { missing: 3 } }]);
    const kept = await world.ledger.inventories();
    await world.clock.advance(60 * SECOND);
    await read([take(1), take(3)]);
    expect(await world.ledger.inventories()).toEqual(kept);
    await arrive(arrived(take(2)));
    expect(told(flow)).toMatchObject([{ files: { missing: 2, arrived: 1 } }]);
  });

  test('one without footage is nothing to wait for', async () => {
    await read([{ path: 'MISC/INDEX.DAT', size: 3, mtimeMs: SHOT }]);
    expect(told(flow)).toEqual([]);
    expect(await world.ledger.inventories()).toEqual([]);
  });
});

describe('what it costs', () => {
  test('changes are gathered; what has arrived is not asked for again and again', async () => {
    await read(Array.from({ length: 100 }, (_, n) => take(n)));
    world.asked.length = 0;
    const files = Array.from({ length: 90 }, (_, n) => arrived(take(n)));
    await world.catalogue.putFiles(files);
    for (let call = 0; call < 500; call += 1) flow.touched();
    await world.clock.advance(2 * SECOND);
    expect(world.asked).toEqual([100]);
    flow.touched();
    await world.clock.advance(2 * SECOND);
    expect(world.asked).toEqual([100, 10]);
    // Once in a while it is, to find out whether it is still there.
    await world.clock.advance(60 * SECOND);
    expect(world.asked.filter((count) => count === 100).length).toBeLessThanOrEqual(3);
  });

  test('with nothing to wait for nothing is asked at all', async () => {
    for (let call = 0; call < 10; call += 1) {
      flow.touched();
      await world.clock.advance(2 * SECOND);
    }
    expect(world.asked).toEqual([]);
  });
});

describe('the copies of what arrived', () => {
  test('are looked up when something arrives and when there are other copies, and not otherwise', async () => {
    const looked: string[][] = [];
    let copies: VerifiedCopy[] = [];
    world.copiesAt = async (places) => {
      looked.push(places.map(({ path }) => path));
      return sumTallies(places.map(({ volume }) => tallyOf(copies, volume, 1)));
    };
    await restart();
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)));
    expect(flow.current().cards[0]?.copies).toMatchObject({ files: 1, byCopies: [1] });
    expect(looked.at(-1)).toEqual([`Saltmarsh/SALT_A/${take(1).path}`]);
    const before = looked.length;
    flow.touched();
    await world.clock.advance(60 * SECOND);
    expect(looked).toHaveLength(before);
    copies = [{ shelf: 'a', name: 'shelf-a', drive: 'a', readAt: 5 }];
    flow.copiesChanged();
    await world.clock.advance(2 * SECOND);
    expect(flow.current().cards[0]?.copies).toMatchObject({ files: 1, byCopies: [0, 1], oldestReadAt: 5 });
    // Whoever asks for all is told how it is now.
    copies = [];
    expect((await flow.all())[0]?.copies).toMatchObject({ byCopies: [1] });
  });
});

describe('said to be kept', () => {
  const one = { files: 1, byCopies: [1], shelves: [], oldestReadAt: null };
  const exposed = async (places: readonly { volume: string }[]) =>
    sumTallies(places.map(({ volume }) => ({ ...one, exposable: [{ volume, copies: 0, bytes: 10 }] })));
  const said = async (by: string | null) => flow.say(flow.current().cards[0]?.reconciliation.inventory.id ?? '', by);

  beforeEach(async () => {
    world.copiesAt = exposed;
    await restart();
    await read([take(1), take(2)]);
    await arrive(arrived(take(1)));
  });

  test('what arrived of it lies there too, over a restart, until it is taken back', async () => {
    expect(flow.current().onCards?.get('stripe')).toEqual({ bytes: 0, cards: [] });
    expect(await said('mina')).toMatchObject({ card: { kept: { saidBy: 'mina', endedAt: null } } });
    await world.clock.advance(2 * SECOND);
    const card = { name: 'SALT_A', saidAt: world.clock.now() - 2 * SECOND, saidBy: 'mina' };
    expect(flow.current().onCards?.get('stripe')).toEqual({ bytes: 10, cards: [card] });
    await restart();
    expect(flow.current().onCards?.get('stripe')).toEqual({ bytes: 10, cards: [card] });
    expect(await said(null)).toMatchObject({ card: { kept: null } });
    await world.clock.advance(2 * SECOND);
    expect(flow.current().onCards?.get('stripe')).toEqual({ bytes: 0, cards: [] });
    expect(await said(null)).toMatchObject({ problem: expect.stringContaining('nobody said') });
    expect(await flow.say('nobody', 'mina')).toMatchObject({ problem: expect.stringContaining('no card') });
  });

  test('seen without what arrived of it, it is over; a reading that broke off, or other files gone, say nothing', async () => {
    await said('mina');
    const kept = () => flow.current().cards.map((card) => card.kept?.lacking);
    await read([take(2)], { gap: 'EIO' });
    await read([take(1)]);
    expect(kept()).toEqual([0]);
    await read([take(2)]);
    expect(kept()).toContain(1);
    expect(world.warned.join()).toMatch(/SALT_A was said to be kept, and 1 file of its footage is not on it any more/);
    await restart();
    expect(kept()).toContain(1);
    expect(flow.current().onCards?.get('stripe')?.bytes).toBe(0);
  });

  test('it is shown for as long as it holds, though all of it has been here for long', async () => {
    await arrive(arrived(take(2)));
    await said('mina');
    await leave();
    await world.clock.advance(30 * HOUR);
    expect(told(flow)).toMatchObject([{ wasComplete: true }]);
    await said(null);
    await world.clock.advance(2 * SECOND);
    expect(told(flow)).toEqual([]);
  });
});

describe('dropped', () => {
  test('it is told no more, though its card is read every minute, until there is more on it', async () => {
    await read([take(1)]);
    const id = flow.current().cards[0]?.reconciliation.inventory.id ?? '';
    expect(await flow.drop('nobody')).toBeNull();
    expect((await flow.drop(id))?.reconciliation.files).toHaveLength(1);
    await read([take(1)]);
    expect(told(flow)).toEqual([]);
    await restart();
    await read([take(1)]);
    expect(told(flow)).toEqual([]);
    await read([take(1), take(2)]);
    expect(told(flow)).toMatchObject([{ files: { missing: 2 } }]);
  });
});

describe('a ledger that refuses', () => {
  test('is asked again, and nothing is lost', async () => {
    const { putInventory } = world.ledger;
    let refusing = true;
    await flow.stop();
    world.ledger.putInventory = async (inventory) => {
      if (refusing) throw new Fault('state-full', 'No room left for ledger.db.');
      return putInventory(inventory);
    };
    flow = flowIn(world);
    await flow.start();
    await read([take(1)]);
    expect(world.warned).toEqual([expect.stringContaining('No room left')]);
    refusing = false;
    await world.clock.advance(10 * SECOND);
    expect(await world.ledger.inventories()).toHaveLength(1);
    expect(told(flow)).toMatchObject([{ files: { missing: 1 } }]);
  });
});

describe('copied cards that were never seen', () => {
  const unseen = () => flow.current().unseen;

  test('what lay there before the volume was watched is not spoken of', async () => {
    await arrive(arrived(take(1)));
    flow.swept('stripe');
    await world.clock.advance(2 * 60 * SECOND);
    expect(unseen()).toMatchObject([]);
  });

  test('what arrives later is, once nothing more has come for a minute, and over a restart', async () => {
    flow.swept('stripe');
    await arrive(arrived(take(1)), arrived(take(2)));
    expect(unseen()).toMatchObject([]);
    await world.clock.advance(60 * SECOND);
    const expected = [{ volume: 'stripe', root: 'Saltmarsh/SALT_A', layout: 'DCIM' }];
    expect(unseen()).toMatchObject(expected);
    await restart();
    expect(unseen()).toMatchObject(expected);
  });

  test('footage that lies in no copied card is told by its folder; exports and proxies are not', async () => {
    flow.swept('stripe');
    await arrive(
      someFile('Saltmarsh/Day 3/A001.MOV'),
      someFile('Saltmarsh/Day 3/Sound/T001.WAV', { kind: 'sound' }),
      someFile('Saltmarsh/Exports/cut.mov', { kind: 'render' }),
      someFile('Saltmarsh/Proxies/A001.mov', { kind: 'proxy' }),
    );
    await world.clock.advance(60 * SECOND);
    expect(unseen()).toMatchObject(
      ['Saltmarsh/Day 3', 'Saltmarsh/Day 3/Sound'].map((root) => ({ volume: 'stripe', root, layout: null })),
    );
    await read([{ ...take(1), path: 'A001.MOV', size: 1000 }]);
    await world.clock.advance(60 * SECOND);
    expect(unseen().map(({ root }) => root)).toEqual(['Saltmarsh/Day 3/Sound']);
  });

  test('what came while nobody watched is told by its change time', async () => {
    flow.swept('stripe');
    await world.clock.advance(SECOND);
    world.complete = false;
    const before = arrived(take(1), {
      path: 'Saltmarsh/OLD/DCIM/100SALTM/A.MOV',
      ctimeNs: BigInt(NOON - HOUR) * 1_000_000n,
    });
    const after = arrived(take(2), { ctimeNs: BigInt(NOON + SECOND) * 1_000_000n });
    await arrive(before, after);
    world.complete = true;
    await world.clock.advance(60 * SECOND);
    expect(unseen().map(({ root }) => root)).toEqual(['Saltmarsh/SALT_A']);
  });

  test('a card that is put in later covers it, for good', async () => {
    flow.swept('stripe');
    await arrive(arrived(take(1)));
    await world.clock.advance(60 * SECOND);
    expect(unseen()).toHaveLength(1);
    await read([take(1)]);
    expect(unseen()).toMatchObject([]);
    await leave();
    await world.clock.advance(30 * HOUR);
    await arrive(arrived(take(9)));
    await world.clock.advance(60 * SECOND);
    expect(unseen()).toMatchObject([]);
  });

  test('it is over when the folder is gone, and after a week; the trash is no arrival', async () => {
    flow.swept('stripe');
    await arrive(arrived(take(1)));
    await arrive(arrived(take(2), { path: '.Trash-1000/files/SALT_C/DCIM/100SALTM/A002.MOV', area: 'trash' }));
    await world.clock.advance(60 * SECOND);
    expect(unseen()).toHaveLength(1);
    await world.catalogue.forget('stripe', ['Saltmarsh/SALT_A']);
    flow.touched();
    await world.clock.advance(2 * SECOND);
    expect(unseen()).toMatchObject([]);
    await arrive(arrived(take(1)));
    await world.clock.advance(8 * 24 * HOUR);
    flow.touched();
    await world.clock.advance(2 * SECOND);
    expect(unseen()).toMatchObject([]);
  });
});

describe('manifests', () => {
  const listed = (...names: string[]): ManifestOutcome => ({
    ok: true,
    base: 'Saltmarsh/Day 3',
    files: names.map((path) => ({ path, size: null, mtimeMs: null })),
    gap: null,
  });
  const list = someFile('Saltmarsh/Day 3/day3.sha256', { kind: 'other', size: 300 });

  test('one that arrives is read when it was left alone, and what it lists is waited for', async () => {
    flow.swept('stripe');
    world.manifests.set(list.path, listed('A001.MOV', 'A002.MOV'));
    await arrive(list, someFile('Saltmarsh/Day 3/A001.MOV'));
    await arrive({ ...list, size: 400 });
    expect(world.manifestsRead).toEqual([]);
    await world.clock.advance(5 * SECOND);
    expect(world.manifestsRead).toEqual([list.path]);
    expect(told(flow)).toMatchObject([{ state: 'manifest', files: { arrived: 1, missing: 1 } }]);
    expect(flow.current().cards[0]?.reconciliation.inventory).toMatchObject({
      name: 'Day 3',
      place: list.path,
      on: { volume: 'stripe', base: 'Saltmarsh/Day 3' },
    });
    await arrive(someFile('Saltmarsh/Day 3/A002.MOV'));
    expect(told(flow)).toMatchObject([{ wasComplete: true, files: { arrived: 2 } }]);
    await world.clock.advance(25 * HOUR);
    expect(told(flow)).toEqual([]);
  });

  test('in the trash none is read', async () => {
    flow.swept('stripe');
    await arrive({ ...list, path: '.Trash-1000/files/day3.sha256', area: 'trash' });
    await world.clock.advance(60 * SECOND);
    expect(world.manifestsRead).toEqual([]);
  });

  test('those that lay there before are left alone', async () => {
    world.manifests.set(list.path, listed('A001.MOV'));
    await arrive(list);
    flow.swept('stripe');
    await world.clock.advance(60 * SECOND);
    expect(world.manifestsRead).toEqual([]);
  });

  test('a volume that is away is asked again; what is broken is said, what is no manifest is not', async () => {
    flow.swept('stripe');
    await arrive(list);
    await world.clock.advance(5 * SECOND);
    expect(world.manifestsRead).toHaveLength(1);
    world.manifests.set(list.path, { ok: false, reason: 'not-a-manifest', detail: 'line 1 is no checksum' });
    await world.clock.advance(31 * SECOND);
    expect(world.manifestsRead).toHaveLength(2);
    expect(world.warned).toEqual([]);
    world.manifests.set(list.path, { ok: false, reason: 'damaged', detail: 'it ends in the middle of line 7' });
    await arrive({ ...list, size: 500 });
    await world.clock.advance(5 * SECOND);
    expect(world.warned).toEqual([expect.stringContaining('it ends in the middle of line 7')]);
    expect(told(flow)).toEqual([]);
  });
});
