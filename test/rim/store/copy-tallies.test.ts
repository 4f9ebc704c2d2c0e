import { describe, expect, test } from 'vitest';
import type { KeptCopy, KnownShelf } from '../../../src/core/backup/copies.ts';
import type { FileRecord } from '../../../src/core/model.ts';
import { someFile } from '../../contracts/catalogue.material.ts';
import { stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();

const shelf = (name: string, drive: string | null): KnownShelf => ({
  ...{ id: `id-${name}`, name, drive, seenAt: 5, totalBytes: 8e12, freeBytes: 3e12 },
});
const file = (path: string, over: Partial<FileRecord> = {}) =>
  someFile(`Saltmarsh/SALT_A/${path}`, { size: 1000, ...over });

function copyOf(of: FileRecord, on: string, readAt: number, over: Partial<KeptCopy> = {}): KeptCopy {
  return {
    ...{ shelf: `id-${on}`, path: `stripe/${of.path}`, volume: 'stripe', project: of.project, kind: of.kind },
    ...{ source: of.path, size: of.size, mtimeNs: of.mtimeNs, algorithm: 'xxh64', hash: `of ${of.path} ${of.size}` },
    ...{ grade: 'device', copiedAt: readAt, readAt },
    ...over,
  };
}

const places = (...files: FileRecord[]) => files.map(({ volume, path }) => ({ volume, path }));

describe('verified copies of single files', () => {
  test('the version that is there now, verified, on different drives', async () => {
    const store = await open(folder());
    const [whole, touched, unverified, bad] = [file('A001.mov'), file('A002.mov'), file('A003.mov'), file('A004.mov')];
    await store.catalogue.putFiles([whole, { ...touched, mtimeNs: touched.mtimeNs + 1n }, unverified, bad]);
    for (const one of [shelf('shelf-a', 'x'), shelf('shelf-b', 'x'), shelf('shelf-c', 'y')])
      await store.backups.putShelf(one);
    await store.backups.putCopies([
      copyOf(whole, 'shelf-a', 30),
      copyOf(whole, 'shelf-b', 20),
      copyOf(whole, 'shelf-c', 10),
      copyOf(touched, 'shelf-a', 5),
      copyOf(unverified, 'shelf-a', 5, { grade: 'server' }),
      copyOf(bad, 'shelf-a', 5),
    ]);
    await store.backups.putReads('id-shelf-a', [
      { path: `stripe/${bad.path}`, state: 'differs', grade: 'device', readAt: 6 },
    ]);
    const look = store.cards;
    // Three shelves, two of them on one drive.
    expect(await look.copiesAt(places(whole))).toMatchObject({ files: 1, byCopies: [0, 0, 1], oldestReadAt: 10 });
    for (const one of [touched, unverified, bad]) {
      expect(await look.copiesAt(places(one))).toMatchObject({
        files: 1,
        byCopies: [1],
        shelves: [],
        oldestReadAt: null,
      });
    }
    const all = await look.copiesAt([...places(whole, touched, unverified, bad), { volume: 'stripe', path: 'nobody' }]);
    expect(all).toEqual({
      files: 5,
      byCopies: [4, 0, 1],
      shelves: ['shelf-a', 'shelf-b', 'shelf-c'].map((name) => ({ id: `id-${name}`, name, files: 1 })),
      oldestReadAt: 10,
      exposable: [
        { volume: 'stripe', copies: 2, bytes: 1000 },
        { volume: 'stripe', copies: 0, bytes: 3000 },
      ],
    });
    await store.close();
  });

  test('a second name of a content has its copies, and counts its bytes once', async () => {
    const store = await open(folder());
    const [first, second] = ['A001.mov', 'B001.mov'].map((name) => file(name, { ino: 77n, nlink: 2 }));
    if (first === undefined || second === undefined) throw new Error('two files');
    await store.catalogue.putFiles([first, second]);
    await store.backups.putCopies([copyOf(first, 'shelf-a', 9)]);
    const both = await store.cards.copiesAt(places(first, second));
    expect(both).toMatchObject({ byCopies: [0, 2], exposable: [{ volume: 'stripe', copies: 1, bytes: 1000 }] });
    await store.close();
  });

  test('below a folder, or in it alone; not beside it, and nothing that is arriving', async () => {
    const store = await open(folder());
    const files = [
      file('DCIM/A001.mov'),
      file('INDEX.DAT', { kind: 'other' }),
      file('DCIM/A002.mov', { state: 'arriving' }),
      someFile('Saltmarsh/SALT_A2/A001.mov'),
      someFile('Saltmarsh/SALT_A-/A001.mov'),
    ];
    await store.catalogue.putFiles(files);
    const count = async (deep: boolean) => (await store.cards.copiesBelow('stripe', 'Saltmarsh/SALT_A', deep)).files;
    expect([await count(true), await count(false)]).toEqual([2, 1]);
    await store.close();
  });
});
