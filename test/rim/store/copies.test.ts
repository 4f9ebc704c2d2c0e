import { describe, expect, test } from 'vitest';
import type { KeptCopy, ReportedCopy } from '../../../src/core/backup/copies.ts';
import type { FileRecord, Kind } from '../../../src/core/model.ts';
import type { Store } from '../../../src/rim/store/store.ts';
import { someFile } from '../../contracts/catalogue.material.ts';
import { stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();

const SHELF = { id: 'id-a', name: 'shelf-a', drive: 'drive-a', seenAt: 5, totalBytes: 8e12, freeBytes: 3e12 };
const file = (path: string, kind: Kind = 'original', over: Partial<FileRecord> = {}) =>
  someFile(`Lock Keepers/${path}`, { project: 'Lock Keepers', kind, ...over });

function copyOf(of: FileRecord, over: Partial<KeptCopy> = {}): KeptCopy {
  return {
    ...{ shelf: 'id-a', path: `stripe/${of.path}`, volume: 'stripe', project: of.project, kind: of.kind },
    ...{ source: of.path, size: of.size, mtimeNs: of.mtimeNs, algorithm: 'xxh64', hash: `of ${of.path} ${of.size}` },
    ...{ grade: 'device', copiedAt: 1_000, readAt: 2_000 },
    ...over,
  };
}

async function backlogOf({ backups }: Store, rank = 0) {
  const { files } = await backups.backlog('stripe', 'id-a', rank, null);
  return files.map(
    ({ file: { path }, earlier }) =>
      `${path.slice('Lock Keepers/'.length)}${earlier === null ? '' : ` (${earlier.state} ${earlier.size})`}`,
  );
}

/** What is on shelves alone, by project. */
async function onlyOnShelf({ backups }: Store) {
  const copies = await backups.projectCopies({ copies: 1, byVolume: {} }, 0);
  return copies?.flatMap(({ project, onlyOnShelf: only }) => (only === null ? [] : [{ project, ...only }]));
}

describe('what a shelf lacks', () => {
  test('is told by rank: footage and its sidecars, project files and graphics, others, what was made; never caches', async () => {
    const store = await open(folder());
    await store.catalogue.putFiles([
      file('r.mov', 'render'),
      file('p.project', 'project-file'),
      file('a.mov'),
      file('c.dat', 'cache'),
      file('a.xml', 'sidecar'),
      file('x.txt', 'other'),
      file('t.mov', 'original', { area: 'trash' }),
      file('n.mov', 'original', { state: 'arriving' }),
      file('e.mov', 'original', { state: 'refused' }),
    ]);
    expect(await Promise.all([0, 1, 2, 3].map((rank) => backlogOf(store, rank)))).toEqual([
      ['a.mov', 'a.xml', 'e.mov'],
      ['p.project'],
      ['x.txt'],
      ['r.mov'],
    ]);
    expect(await store.backups.backlogSum('stripe', 'id-a')).toEqual({
      ...{ files: 6, bytes: 6000, footageFiles: 2, footageBytes: 2000 },
    });
  });

  test('a copy counts for the shelf it is on, for the version it is of, and as long as it is good', async () => {
    const store = await open(folder());
    const [a, b] = [file('a.mov'), file('b.mov')];
    await store.catalogue.putFiles([a, b]);
    await store.backups.putCopies([copyOf(a), copyOf(b, { shelf: 'id-b' })]);
    expect(await backlogOf(store)).toEqual(['b.mov']);
    await store.catalogue.putFiles([{ ...a, size: 1200, mtimeNs: a.mtimeNs + 1n }]);
    expect(await backlogOf(store)).toEqual(['a.mov (good 1000)', 'b.mov']);
    await store.catalogue.putFiles([a]);
    expect(await backlogOf(store)).toEqual(['b.mov']);
    await store.backups.putReads('id-a', [{ path: copyOf(a).path, state: 'differs', grade: 'device', readAt: 3_000 }]);
    expect(await backlogOf(store)).toEqual(['a.mov (differs 1000)', 'b.mov']);
  });

  test('comes in parts, each file once', async () => {
    const store = await open(folder());
    const files = Array.from({ length: 2_500 }, (_, index) => file(`frames/${index}.dpx`));
    await store.catalogue.putFiles(files);
    const seen: string[] = [];
    let after: number | null = null;
    do {
      const page = await store.backups.backlog('stripe', 'id-a', 0, after);
      seen.push(...page.files.map(({ file: { path } }) => path));
      after = page.next;
    } while (after !== null);
    expect(seen.toSorted()).toEqual(files.map(({ path }) => path).toSorted());
  });

  test('a file that was renamed keeps its copies, and two that changed places each keep their own', async () => {
    const store = await open(folder());
    const [a, b] = [file('a.mov', 'original', { ino: 1n }), file('b.mov', 'original', { ino: 2n })];
    for (const one of [a, b]) await store.catalogue.finishUnit('stripe', one.unit, [one], []);
    await store.backups.putCopies([copyOf(a), copyOf(b)]);
    const move = (from: FileRecord, path: string) => {
      const to = someFile(path, { ...from, path, unit: path });
      return { from: from.path, file: to };
    };
    await store.catalogue.moveFiles('stripe', [move(a, b.path), move(b, 'Lock Keepers/Day 2/c.mov')]);
    expect(await backlogOf(store)).toEqual([]);
    expect(await onlyOnShelf(store)).toEqual([]);
    await store.catalogue.forget('stripe', [b.path]);
    expect((await store.backups.lostFiles('stripe', null, 'id-a')).map(({ source }) => source)).toEqual([a.path]);
  });
});

describe('what is on shelves', () => {
  test('shelves and notes are kept, the newest word of each', async () => {
    const state = folder();
    const store = await open(state);
    await store.backups.putShelf({ ...SHELF, seenAt: 1 });
    await store.backups.putShelf(SHELF);
    await store.backups.putBackupNote('due stripe', '{"a":1}');
    await store.backups.putBackupNote('due stripe', '{"a":2}');
    await store.close();
    const again = await open(state);
    expect(await again.backups.shelves()).toEqual([SHELF]);
    expect(await again.backups.backupNote('due stripe')).toBe('{"a":2}');
    expect(await again.backups.backupNote('due other')).toBeNull();
  });

  test('copies are counted by volume and shelf: verified are those that are good and came from the medium', async () => {
    const store = await open(folder());
    const files = ['a', 'b', 'c', 'd'].map((name) => file(`${name}.mov`));
    const [a, b, c, d] = files.map((one) => copyOf(one)) as [KeptCopy, KeptCopy, KeptCopy, KeptCopy];
    await store.backups.putCopies([a, { ...b, readAt: 7_000 }, { ...c, grade: 'reported' }, d]);
    await store.backups.putReads('id-a', [
      { path: d.path, state: 'unread', grade: 'device', readAt: 9_000 },
      { path: a.path, state: 'good', grade: 'cache-dropped', readAt: 6_000 },
    ]);
    expect(await store.backups.shelfSums()).toEqual([
      {
        ...{
          shelf: 'id-a',
          volume: 'stripe',
          files: 4,
          bytes: 4000,
          earlierBytes: 0,
          verifiedFiles: 2,
          verifiedBytes: 2000,
        },
        ...{ differing: 0, unread: 1, oldestReadAt: 6_000, newestReadAt: 7_000 },
      },
    ]);
  });

  test('those that were not read for longest are read first', async () => {
    const store = await open(folder());
    const [a, b, c] = ['a', 'b', 'c'].map((name) => file(`${name}.mov`)) as [FileRecord, FileRecord, FileRecord];
    await store.backups.putCopies([
      copyOf(a, { readAt: 300 }),
      copyOf(b, { readAt: 100 }),
      copyOf(c, { readAt: 200 }),
      copyOf(a, { shelf: 'id-b', readAt: 1 }),
    ]);
    const scope = { shelf: 'id-a', volume: 'stripe', project: null };
    const stale = await store.backups.stalest(scope, 300, null, 10);
    expect(stale.map(({ readAt }) => readAt)).toEqual([100, 200]);
    expect(stale[0]).toEqual({
      ...{ path: `stripe/${b.path}`, volume: 'stripe', source: b.path, size: 1000, mtimeNs: b.mtimeNs, state: 'good' },
      ...{ grade: 'device', algorithm: 'xxh64', hash: `of ${b.path} 1000`, copiedAt: 1_000, readAt: 100 },
    });
    const [first] = await store.backups.stalest(scope, 300, null, 1);
    expect(await store.backups.stalest(scope, 300, first ?? null, 1)).toEqual(stale.slice(1));
    expect(await store.backups.stalest({ ...scope, volume: 'other' }, 300, null, 10)).toEqual([]);
    expect(await store.backups.stalest({ ...scope, project: 'Saltmarsh' }, 300, null, 10)).toEqual([]);
  });

  test('what is left to read is counted, with what was found wrong since', async () => {
    const store = await open(folder());
    const [a, b, c] = ['a', 'b', 'c'].map((name) => copyOf(file(`${name}.mov`))) as [KeptCopy, KeptCopy, KeptCopy];
    await store.backups.putCopies([a, { ...b, readAt: 9_000 }, c]);
    await store.backups.putReads('id-a', [{ path: b.path, state: 'differs', grade: 'device', readAt: 9_000 }]);
    const tally = (before: number, project: string | null = null) =>
      store.backups.tally({ shelf: 'id-a', volume: 'stripe', project }, before);
    const all = { files: 3, bytes: 3000 };
    expect(await tally(5_000)).toEqual({ ...all, leftFiles: 2, leftBytes: 2000, readDiffering: 1, readUnread: 0 });
    expect(await tally(9_001)).toEqual({ ...all, leftFiles: 3, leftBytes: 3000, readDiffering: 0, readUnread: 0 });
    expect((await tally(9_001, 'Saltmarsh')).files).toBe(0);
  });

  test('other good copies of a content are found, one that was read from its medium first', async () => {
    const store = await open(folder());
    const a = copyOf(file('a.mov'));
    await store.backups.putCopies([
      { ...a, shelf: 'id-b', grade: 'server', readAt: 9_000 },
      { ...a, shelf: 'id-c' },
      { ...a, shelf: 'id-d' },
    ]);
    await store.backups.putReads('id-d', [{ path: a.path, state: 'differs', grade: 'device', readAt: 9_000 }]);
    const found = await store.backups.goodCopies({ algorithm: 'xxh64', hash: a.hash, size: a.size });
    expect(found.map(({ shelf, grade }) => [shelf, grade])).toEqual([
      ['id-c', 'device'],
      ['id-b', 'server'],
    ]);
    expect(await store.backups.goodCopies({ algorithm: 'xxh64', hash: a.hash, size: a.size + 1 })).toEqual([]);
  });

  test('what is no longer on the volume, or is in its trash, lives on as only on a shelf', async () => {
    const store = await open(folder());
    const [a, b] = [file('a.mov'), file('b.mov')];
    await store.catalogue.putFiles([a, b]);
    await store.backups.putCopies([copyOf(a), copyOf(b)]);
    expect(await onlyOnShelf(store)).toEqual([]);
    await store.catalogue.forget('stripe', [a.path]);
    await store.catalogue.putFiles([{ ...b, area: 'trash' }]);
    expect(await onlyOnShelf(store)).toEqual([
      {
        ...{ project: 'Lock Keepers', files: 2, bytes: 2000, footageBytes: 2000, fewest: 1, oldestReadAt: 2_000 },
        shelves: [{ name: 'id-a', files: 2, bytes: 2000 }],
      },
    ]);
    const lost = async (project: string | null) => (await store.backups.lostFiles('stripe', project, 'id-a')).length;
    expect(await Promise.all([lost(null), lost('Lock Keepers'), lost('Saltmarsh')])).toEqual([2, 2, 0]);
    // Brought back, with its times.
    await store.catalogue.putFiles([a]);
    expect(await onlyOnShelf(store)).toMatchObject([{ files: 1 }]);
  });
});

describe('what a program says that it has copied', () => {
  const said = (of: FileRecord, over: Partial<ReportedCopy> = {}): ReportedCopy => ({
    ...{ name: 'tape', volume: 'stripe', source: of.path, size: of.size, mtimeNs: of.mtimeNs, place: 'tape 4' },
    ...{ readPath: null, reportedAt: 5_000 },
    ...over,
  });
  const missing = async ({ reported }: Store, name = 'tape') =>
    (await reported.unreported('stripe', name, 0, null)).files.map(({ path }) => path.slice('Lock Keepers/'.length));

  test('is not wanted again in this version, nor under another name when its content is known; it is no copy that counts', async () => {
    const store = await open(folder());
    const [a, b] = [file('a.mov', 'original', { ino: 1n }), file('b.mov', 'original', { ino: 2n })];
    for (const one of [a, b]) await store.catalogue.finishUnit('stripe', one.unit, [one], []);
    await store.backups.putVersions([{ ...copyOf(a), volume: 'stripe' }]);
    await store.reported.putReported([said(a), said(b)]);
    expect([await missing(store), await missing(store, 'cloud')]).toEqual([[], ['a.mov', 'b.mov']]);
    expect(await store.backups.shelfSums()).toEqual([]);
    const sum = { files: 2, bytes: 2000, presentFiles: 2, presentBytes: 2000 };
    expect(await store.reported.reportedSums()).toEqual([{ name: 'tape', volume: 'stripe', ...sum }]);
    await store.catalogue.putFiles([{ ...b, size: 1200 }]);
    expect(await missing(store)).toEqual(['b.mov']);
    expect(await store.reported.reportedSums()).toMatchObject([{ files: 2, presentFiles: 1, presentBytes: 1000 }]);
    // A program that was told of a rename sends nothing twice.
    const moved = someFile('Lock Keepers/Day 2/a.mov', { ...a, path: 'Lock Keepers/Day 2/a.mov', unit: 'x' });
    await store.catalogue.moveFiles('stripe', [{ from: a.path, file: moved }]);
    expect(await missing(store)).toEqual(['b.mov']);
  });

  test('what can be read is told until it was read, over restarts; what was said wrongly is wanted again', async () => {
    const state = folder();
    const store = await open(state);
    const [a, b] = [file('a.mov'), file('b.mov')];
    await store.catalogue.putFiles([a, b]);
    await store.backups.putVersions([{ ...copyOf(a), volume: 'stripe' }]);
    await store.reported.putReported([said(a, { readPath: 't/a' }), said(b, { readPath: 't/b' })]);
    await store.close();
    const again = await open(state);
    const unread = await again.reported.unreadReports('stripe', 'tape', 10);
    expect(unread).toMatchObject([
      { ...said(a), readPath: 't/a', hash: copyOf(a).hash, file: { project: 'Lock Keepers', kind: 'original' } },
      { readPath: 't/b', hash: null },
    ]);
    await again.catalogue.forget('stripe', [b.path]);
    expect((await again.reported.unreadReports('stripe', 'tape', 10))[1]?.file).toBeNull();
    await again.reported.settleReports(unread.map((one) => ({ ...one, keep: one.source !== a.path })));
    expect(await again.reported.unreadReports('stripe', 'tape', 10)).toEqual([]);
    expect(await missing(again)).toEqual(['a.mov']);
  });
});
