import { rmSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { KeptCopy } from '../../../src/core/backup/copies.ts';
import type { FileRecord, Kind } from '../../../src/core/model.ts';
import type { Store } from '../../../src/rim/store/store.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();

const DAY = 86_400_000;
const NOW = 100 * DAY;
/** Copies count that were read in the last sixty days. */
const SINCE = NOW - 60 * DAY;
const PLACE = { volume: 'stripe', area: 'project', project: 'Lock Keepers' } as const;

const file = (path: string, kind: Kind = 'original', over: Partial<FileRecord> = {}) =>
  someFile(`Lock Keepers/${path}`, { project: 'Lock Keepers', kind, ...over });

function copyOf(of: FileRecord, shelf: string, readAt = NOW, over: Partial<KeptCopy> = {}): KeptCopy {
  return {
    ...{ shelf, path: `stripe/${of.path}`, volume: 'stripe', project: of.project, kind: of.kind },
    ...{ source: of.path, size: of.size, mtimeNs: of.mtimeNs, algorithm: 'xxh64', hash: `of ${of.path} ${of.size}` },
    ...{ grade: 'device', copiedAt: 1_000, readAt },
    ...over,
  };
}

async function putShelves({ backups }: Store, drives: Record<string, string | null>): Promise<void> {
  for (const [id, drive] of Object.entries(drives)) {
    await backups.putShelf({ id, name: `shelf-${id}`, drive, seenAt: 1, totalBytes: 8e12, freeBytes: 3e12 });
  }
}

async function copiesOf({ backups }: Store, wanted: number, place: { area: string; project: string | null } = PLACE) {
  const all = await backups.projectCopies({ copies: wanted, byVolume: {} }, SINCE);
  return all?.find(({ area, project }) => area === place.area && project === place.project);
}

const exposedOf = async ({ catalogue }: Store, wanted: number, byVolume = {}) =>
  (await catalogue.projects(wanted, byVolume))[0]?.exposed;

describe('what has all its wanted copies', () => {
  test('counts on different drives alone, read back within the period, with the shelves and the oldest reading', async () => {
    const store = await open(folder());
    await putShelves(store, { a: 'd1', b: 'd2', c: 'd2' });
    const [one, two, three, four] = ['1', '2', '3', '4'].map((name) => file(`${name}.mov`)) as [
      ...[FileRecord, FileRecord, FileRecord, FileRecord],
    ];
    const edit = file('edit.project', 'project-file', { size: 70 });
    await store.catalogue.putFiles([one, two, three, four, edit, file('x.cache', 'cache')]);
    await store.backups.putCopies([
      ...[copyOf(one, 'a', NOW - 9 * DAY), copyOf(one, 'b', NOW - 5 * DAY)],
      // On one drive.
      ...[copyOf(two, 'b'), copyOf(two, 'c')],
      // One of them was read too long ago.
      ...[copyOf(three, 'a', SINCE - 1), copyOf(three, 'b')],
      ...[copyOf(four, 'a', SINCE), copyOf(four, 'c', NOW - DAY)],
      ...[copyOf(edit, 'a'), copyOf(edit, 'b')],
    ]);
    const told = await copiesOf(store, 2);
    expect(told).toMatchObject({
      fewest: 1,
      footage: { bytes: 2000, oldestReadAt: SINCE, shelves: ['shelf-a', 'shelf-b', 'shelf-c'] },
      other: { bytes: 70, oldestReadAt: NOW, shelves: ['shelf-a', 'shelf-b'] },
      made: { bytes: 0, oldestReadAt: null, shelves: [] },
      onlyOnShelf: null,
    });
    // Exposure does not hang on when a copy was read.
    expect((await exposedOf(store, 2))?.bytes).toBe(1000);
    expect((await copiesOf(store, 1))?.footage).toMatchObject({ bytes: 4000, oldestReadAt: SINCE });
    expect((await copiesOf(store, 3))?.footage).toMatchObject({ bytes: 0, shelves: [] });
  });

  test('a copy that is no longer good, a changed file and a new one take away from it at once', async () => {
    const store = await open(folder());
    await putShelves(store, { a: 'd1' });
    const [one, two] = [file('1.mov'), file('2.mov')];
    await store.catalogue.putFiles([one, two]);
    await store.backups.putCopies([copyOf(one, 'a'), copyOf(two, 'a')]);
    expect(await copiesOf(store, 1)).toMatchObject({ fewest: 1, footage: { bytes: 2000 } });
    await store.catalogue.putFiles([{ ...one, size: 1500, mtimeNs: one.mtimeNs + 1n }]);
    expect(await copiesOf(store, 1)).toMatchObject({ fewest: 0, footage: { bytes: 1000 } });
    await store.catalogue.putFiles([one, file('3.mov')]);
    expect(await copiesOf(store, 1)).toMatchObject({ fewest: 0, footage: { bytes: 2000 } });
    await store.catalogue.forget('stripe', ['Lock Keepers/3.mov']);
    expect(await copiesOf(store, 1)).toMatchObject({ fewest: 1 });
    await store.backups.putReads('a', [{ path: `stripe/${two.path}`, state: 'differs', grade: 'device', readAt: NOW }]);
    expect(await copiesOf(store, 1)).toMatchObject({ fewest: 0, footage: { bytes: 1000 } });
  });

  test('each volume has a number of its own', async () => {
    const store = await open(folder());
    await putShelves(store, { a: 'd1' });
    const one = file('1.mov');
    await store.catalogue.putFiles([one]);
    await store.backups.putCopies([copyOf(one, 'a')]);
    expect((await exposedOf(store, 2))?.bytes).toBe(1000);
    expect((await exposedOf(store, 2, { stripe: 1, other: 2 }))?.bytes).toBe(0);
    expect((await exposedOf(store, 1, { stripe: 2 }))?.bytes).toBe(1000);
  });

  test('footage in the trash is told apart, and an area outside of projects', async () => {
    const store = await open(folder());
    await putShelves(store, { a: 'd1' });
    const trash = someFile('Trash/1.mov', { area: 'trash', project: null, kind: 'original' });
    const loose = someFile('2.mov', { area: 'unassigned', project: null, kind: 'original' });
    await store.catalogue.putFiles([trash, loose]);
    await store.backups.putCopies([copyOf(trash, 'a'), copyOf(loose, 'a')]);
    expect(await copiesOf(store, 1, { area: 'trash', project: null })).toMatchObject({
      ...{ fewest: null, footage: { bytes: 1000 } },
    });
    expect(await copiesOf(store, 1, { area: 'unassigned', project: null })).toMatchObject({
      ...{ fewest: 1, footage: { bytes: 1000 } },
    });
  });
});

describe('proxies and renders', () => {
  /** A render whose source nobody knows, and a proxy that lies with its take. */
  async function stage() {
    const state = folder();
    const store = await open(state);
    await putShelves(store, { a: 'd1', b: 'd2' });
    const original = file('Footage/A001.mov');
    const proxy = file('Proxies/A001.mov', 'proxy', { size: 100 });
    const render = file('Renders/reel.mov', 'render', { size: 300 });
    for (const one of [original, proxy, render]) {
      await store.catalogue.finishUnit('stripe', one.unit, [one], [clipOf([one], PRORES_UHD25, { kind: one.kind })]);
    }
    await search(store);
    return { state, store, original, proxy, render };
  }

  async function search({ multicam }: Store): Promise<void> {
    let known = false;
    for (;;) {
      const { step } = await multicam.step('stripe', 'Lock Keepers', known);
      known = true;
      if (step === 'found' || step === 'current') return;
    }
  }

  test('without a known source are covered by their copies like all else; the others need none', async () => {
    const { store, render, proxy } = await stage();
    const lacking = async () => (await copiesOf(store, 2))?.madeLacking;
    expect(await lacking()).toEqual({
      all: { clips: 2, bytes: 400, durationSeconds: 20 },
      unsourced: { clips: 1, bytes: 300, durationSeconds: 10 },
    });
    await store.backups.putCopies([copyOf(render, 'a')]);
    expect((await lacking())?.unsourced.bytes).toBe(300);
    await store.backups.putCopies([copyOf(render, 'b', SINCE - 1)]);
    expect(await lacking()).toEqual({
      all: { clips: 1, bytes: 100, durationSeconds: 10 },
      unsourced: { clips: 0, bytes: 0, durationSeconds: 0 },
    });
    // Read too long ago to be a ground for taking it away.
    expect(await copiesOf(store, 2)).toMatchObject({ unsourcedBytes: 0, made: { bytes: 0 } });
    await store.backups.putReads('b', [
      { path: `stripe/${render.path}`, state: 'good', grade: 'device', readAt: SINCE },
    ]);
    expect(await copiesOf(store, 2)).toMatchObject({ unsourcedBytes: 300, made: { bytes: 300, oldestReadAt: SINCE } });
    await store.backups.putCopies([copyOf(proxy, 'a'), copyOf(proxy, 'b')]);
    expect(await copiesOf(store, 2)).toMatchObject({ unsourcedBytes: 300, made: { bytes: 400 } });
  });

  test('a render that is made anew is exposed until it is copied again; one that goes is not counted', async () => {
    const { store, render } = await stage();
    await store.backups.putCopies([copyOf(render, 'a'), copyOf(render, 'b')]);
    const lacking = async () => (await copiesOf(store, 2))?.madeLacking.unsourced.bytes;
    expect(await lacking()).toBe(0);
    const anew = { ...render, size: 500, mtimeNs: render.mtimeNs + 1n };
    await store.catalogue.finishUnit('stripe', anew.unit, [anew], [clipOf([anew], PRORES_UHD25, { kind: 'render' })]);
    await search(store);
    expect(await lacking()).toBe(500);
    await store.backups.putCopies([copyOf(anew, 'a'), copyOf(anew, 'b')]);
    expect(await lacking()).toBe(0);
    await store.catalogue.forget('stripe', [anew.path]);
    expect((await copiesOf(store, 2))?.madeLacking.all).toMatchObject({ clips: 1, bytes: 100 });
  });

  test('a proxy is one of them when its footage goes, and no longer when that is back; over a restart too', async () => {
    const { state, store, original } = await stage();
    const unsourced = async (of: Store) => (await copiesOf(of, 2))?.madeLacking.unsourced.bytes;
    await store.catalogue.forget('stripe', [original.path]);
    await search(store);
    expect(await unsourced(store)).toBe(400);
    await store.close();
    const again = await open(state);
    expect(await unsourced(again)).toBe(400);
    await again.catalogue.finishUnit('stripe', original.unit, [original], [clipOf([original], PRORES_UHD25)]);
    await search(again);
    expect(await unsourced(again)).toBe(300);
  });
});

describe('what is left on shelves alone', () => {
  const onlyOf = async (store: Store) => (await copiesOf(store, 2))?.onlyOnShelf ?? null;

  test('a project that was wholly taken away lives on, with its shelves, its copies and the oldest reading', async () => {
    const state = folder();
    const store = await open(state);
    await putShelves(store, { a: 'd1', b: 'd2' });
    const [clip, edit] = [file('1.mov'), file('edit.project', 'project-file', { size: 70 })];
    await store.catalogue.putFiles([clip, edit]);
    await store.backups.putCopies([copyOf(clip, 'a', 50), copyOf(clip, 'b', 40), copyOf(edit, 'a', 60)]);
    expect(await onlyOf(store)).toBeNull();
    await store.catalogue.forget('stripe', ['Lock Keepers']);
    const only = {
      ...{ files: 2, bytes: 1070, footageBytes: 1000, fewest: 2, oldestReadAt: 40 },
      shelves: [
        { name: 'shelf-a', files: 2, bytes: 1070 },
        { name: 'shelf-b', files: 1, bytes: 1000 },
      ],
    };
    expect(await onlyOf(store)).toEqual(only);
    expect(await copiesOf(store, 2)).toMatchObject({ ...PLACE, fewest: null, footage: { bytes: 0 } });
    expect(await store.catalogue.projects(2)).toEqual([]);
    await store.close();
    const again = await open(state);
    expect(await onlyOf(again)).toEqual(only);
    // The same files with their times: known, and covered, without being read.
    await again.catalogue.putFiles([clip, edit]);
    expect(await onlyOf(again)).toBeNull();
    expect((await exposedOf(again, 2))?.bytes).toBe(0);
  });

  test('what comes back with other times is there again, and exposed until its content is known', async () => {
    const store = await open(folder());
    await putShelves(store, { a: 'd1' });
    const clip = file('1.mov');
    await store.catalogue.putFiles([clip]);
    await store.backups.putCopies([copyOf(clip, 'a')]);
    await store.catalogue.forget('stripe', [clip.path]);
    expect(await onlyOf(store)).toMatchObject({ files: 1 });
    // What a time loses on its way onto a shelf and back is no other time; a microsecond is.
    await store.catalogue.putFiles([{ ...clip, mtimeNs: clip.mtimeNs - 238n }]);
    expect((await exposedOf(store, 1))?.bytes).toBe(0);
    expect((await store.backups.backlog('stripe', 'a', 0, null)).files).toEqual([]);
    const back = { ...clip, mtimeNs: clip.mtimeNs + 1000n };
    await store.catalogue.putFiles([back]);
    expect(await onlyOf(store)).toBeNull();
    expect((await exposedOf(store, 1))?.bytes).toBe(1000);
    const { algorithm, hash } = copyOf(clip, 'a');
    await store.backups.putVersions([
      { volume: 'stripe', source: back.path, size: back.size, mtimeNs: back.mtimeNs, algorithm, hash, readAt: NOW },
    ]);
    expect((await exposedOf(store, 1))?.bytes).toBe(0);
  });

  test('hangs on what becomes of the copies, and on the same content under another name', async () => {
    const store = await open(folder());
    await putShelves(store, { a: 'd1' });
    const [clip, other] = [file('1.mov'), file('2.mov')];
    const kept = copyOf(clip, 'a');
    await store.catalogue.putFiles([clip, other]);
    await store.backups.putCopies([kept]);
    await store.catalogue.forget('stripe', [clip.path]);
    expect(await onlyOf(store)).toMatchObject({ files: 1 });
    const read = (state: 'good' | 'differs') =>
      store.backups.putReads('a', [{ path: kept.path, state, grade: 'device', readAt: NOW }]);
    await read('differs');
    expect(await onlyOf(store)).toBeNull();
    await read('good');
    expect(await onlyOf(store)).toMatchObject({ files: 1, oldestReadAt: NOW });
    const { algorithm, hash } = kept;
    await store.backups.putVersions([
      { volume: 'stripe', source: other.path, size: other.size, mtimeNs: other.mtimeNs, algorithm, hash, readAt: NOW },
    ]);
    expect(await onlyOf(store)).toBeNull();
    await store.catalogue.forget('stripe', [other.path]);
    expect(await onlyOf(store)).toMatchObject({ files: 1 });
    await store.backups.dropCopies('a', [kept.path]);
    expect(await onlyOf(store)).toBeNull();
  });

  test('with a ledger that was lost nothing is told', async () => {
    const state = folder();
    const store = await open(state);
    await store.catalogue.putFiles([file('1.mov')]);
    await store.close();
    for (const end of ['', '-wal', '-shm']) rmSync(`${state}/ledger.db${end}`, { force: true });
    const again = await open(state);
    expect(await again.backups.projectCopies({ copies: 1, byVolume: {} }, 0)).toBeNull();
  });

  test('a version that turns out to hold something else leaves the copies of what it was said to hold alone', async () => {
    const store = await open(folder());
    await putShelves(store, { a: 'd1' });
    const [clip, other] = [file('1.mov'), file('2.mov')];
    const kept = copyOf(clip, 'a');
    const { algorithm, hash } = kept;
    await store.backups.putVersions([
      { volume: 'stripe', source: other.path, size: other.size, mtimeNs: other.mtimeNs, algorithm, hash, readAt: NOW },
    ]);
    await store.backups.putCopies([kept]);
    await store.catalogue.putFiles([other]);
    expect(await onlyOf(store)).toBeNull();
    await store.backups.putCopies([copyOf(other, 'a')]);
    expect(await onlyOf(store)).toMatchObject({ files: 1 });
  });

  /** What is kept from change to change is what a store that has just been opened counts from the start. */
  test('is the same however it came about', async () => {
    const names = ['a', 'b', 'c'];
    const step = fc.oneof(
      fc.record({ do: fc.constant('put' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
      fc.record({ do: fc.constant('forget' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
      fc.record({ do: fc.constant('trash' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
      fc.record({ do: fc.constant('copy' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
      fc.record({ do: fc.constant('same' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
      fc.record({ do: fc.constant('bad' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
      fc.record({ do: fc.constant('drop' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
      fc.record({ do: fc.constant('aside' as const), name: fc.constantFrom(...names), version: fc.nat(1) }),
    );
    const fileOf = (name: string, version: number) =>
      file(`${name}.mov`, 'original', { size: 1000 + version, mtimeNs: BigInt(version + 1) });
    async function take(store: Store, { do: what, name, version }: { do: string; name: string; version: number }) {
      const one = fileOf(name, version);
      const kept = copyOf(one, 'a');
      const other = fileOf(names[(names.indexOf(name) + 1) % names.length] ?? '', version);
      if (what === 'put') await store.catalogue.putFiles([one]);
      else if (what === 'forget') await store.catalogue.forget('stripe', [one.path]);
      else if (what === 'trash') await store.catalogue.putFiles([{ ...one, area: 'trash' }]);
      else if (what === 'copy') await store.backups.putCopies([kept]);
      else if (what === 'bad')
        await store.backups.putReads('a', [{ path: kept.path, state: 'differs', grade: 'device', readAt: 9 }]);
      else if (what === 'drop') await store.backups.dropCopies('a', [kept.path]);
      else if (what === 'aside')
        await store.backups.moveCopy('a', kept.path, `Earlier versions/${version}/${one.path}`);
      // The next file has the content of this one.
      else
        await store.backups.putVersions([
          {
            volume: 'stripe',
            source: other.path,
            size: other.size,
            mtimeNs: other.mtimeNs,
            algorithm: 'xxh64',
            hash: kept.hash,
            readAt: 1,
          },
        ]);
    }
    await fc.assert(
      fc.asyncProperty(fc.array(step, { maxLength: 14 }), async (steps) => {
        const state = folder();
        const store = await open(state);
        await putShelves(store, { a: 'd1' });
        for (const one of steps) {
          await take(store, one).catch(() => {});
          await onlyOf(store);
        }
        const kept = await copiesOf(store, 1);
        await store.close();
        const again = await open(state);
        expect(await copiesOf(again, 1)).toEqual(kept);
        await again.close();
      }),
      { numRuns: 25 },
    );
  }, 120_000);
});
