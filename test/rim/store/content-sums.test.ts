import { expect, test } from 'vitest';
import type { ReadVersion } from '../../../src/core/cards/known-list.ts';
import type { FileRecord } from '../../../src/core/model.ts';
import { someFile } from '../../contracts/catalogue.material.ts';
import { stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();
const file = (name: string, over: Partial<FileRecord> = {}) =>
  someFile(`Saltmarsh/SALT_A/${name}`, { size: 9, ...over });
const read = ({ volume, path, size, mtimeNs }: FileRecord, xxh64: string, more = {}): ReadVersion => ({
  ...{ volume, path, size, mtimeNs, sums: { xxh64, ...more }, readAt: 3 },
});
const places = (...files: FileRecord[]) => files.map(({ volume, path }) => ({ volume, path }));

test('hashes are kept with the content, over a restart: a copy of it knows them, another version of the file does not', async () => {
  const state = folder();
  const store = await open(state);
  const [a, b, c] = [file('a.mov'), file('b.mov'), file('c.mov')];
  await store.catalogue.putFiles([a, b, c]);
  const longer = file('d.mov', { size: 10 });
  await store.catalogue.putFiles([longer]);
  await store.cards.putRead([read(a, 'one', { md5: 'm1', c4: 'c1' }), read(b, 'two')]);
  // As long as two contents differ in size they are two.
  await store.cards.putRead([read(longer, 'one', { md5: 'm2' })]);
  // The backup found the same content under another name.
  await store.backups.putVersions([{ ...read(c, 'one'), source: c.path, algorithm: 'xxh64', hash: 'one' }]);
  await store.close();

  const next = await open(state);
  const sums = async (...files: FileRecord[]) => (await next.cards.versionsAt(places(...files))).map((one) => one.sums);
  const known = { xxh64: 'one', md5: 'm1', c4: 'c1' };
  expect(await sums(a, b, c)).toEqual([known, { xxh64: 'two' }, known]);
  await next.catalogue.putFiles([{ ...a, mtimeNs: a.mtimeNs + 1n }]);
  expect(await sums(a)).toEqual([{}]);
  expect(await next.cards.versionsAt(places(file('nobody.mov')))).toEqual([]);
  await next.close();
});

test('what was changed in some way after it was read is told, as a file copied anew with its times is', async () => {
  const store = await open(folder());
  const ms = (at: number) => BigInt(at) * 1_000_000n;
  const files = [file('a.mov', { ctimeNs: ms(3) }), file('b.mov', { ctimeNs: ms(3) + 1n }), file('c.mov')];
  await store.catalogue.putFiles(files);
  await store.cards.putRead(files.slice(0, 2).map((one) => read(one, 'one')));
  const changed = async () => (await store.cards.versionsAt(places(...files))).map((one) => one.changedSince);
  expect(await changed()).toEqual([false, true, false]);
  await store.cards.putRead(files.slice(0, 2).map((one) => ({ ...read(one, 'two'), readAt: 4 })));
  expect(await changed()).toEqual([false, false, false]);
  await store.close();
});

test('in a folder and below, with what is arriving marked; more than was asked for is not told', async () => {
  const store = await open(folder());
  const files = [file('a.mov'), file('Clips/b.mov', { state: 'arriving' }), someFile('Saltmarsh/SALT_A2/c.mov')];
  await store.catalogue.putFiles(files);
  const below = async (most: number) =>
    (await store.cards.versionsBelow('stripe', 'Saltmarsh/SALT_A', most))?.map(({ path, isArriving }) => [
      path,
      isArriving,
    ]);
  expect(await below(2)).toEqual([
    ['Saltmarsh/SALT_A/a.mov', false],
    ['Saltmarsh/SALT_A/Clips/b.mov', true],
  ]);
  expect(await below(1)).toBeUndefined();
  await store.close();
});
