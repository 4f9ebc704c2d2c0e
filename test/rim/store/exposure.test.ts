import { join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { describe, expect, test } from 'vitest';
import type { ReadGrade } from '../../../src/core/backup/copy-port.ts';
import type { FileRecord } from '../../../src/core/model.ts';
import { openCopyRows } from '../../../src/rim/store/copy-rows.ts';
import { openShelfRows } from '../../../src/rim/store/shelf-rows.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { AT, stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();

const PICTURE = someFile('Lock Keepers/Day 1/A001.mov', { project: 'Lock Keepers', size: 1000 });
const SIDECAR = someFile('Lock Keepers/Day 1/A001.xml', {
  project: 'Lock Keepers',
  unit: PICTURE.unit,
  kind: 'sidecar',
  size: 10,
});
const LATER = someFile('Lock Keepers/Day 2/A002.mov', { project: 'Lock Keepers', size: 500 });

interface Copy {
  of: FileRecord;
  shelf: string;
  device?: string | null;
  grade?: ReadGrade;
  size?: number;
  mtimeNs?: bigint;
}

function addCopies(stateDir: string, copies: Copy[]): void {
  const database = new DatabaseSync(join(stateDir, 'catalogue.db'));
  database.exec(`ATTACH '${join(stateDir, 'ledger.db')}' AS ledger`);
  const rows = openCopyRows(database);
  const { putShelf } = openShelfRows(database);
  for (const { of, shelf, device = shelf, grade = 'device', size = of.size, mtimeNs = of.mtimeNs } of copies) {
    putShelf({ id: shelf, name: shelf, drive: device, seenAt: 1, totalBytes: 4e12, freeBytes: 1e12 });
    const hash = `${of.path} ${size} ${mtimeNs}`;
    rows.put([
      {
        ...{
          shelf,
          path: `stripe/${of.path}`,
          volume: 'stripe',
          project: 'Lock Keepers',
          kind: of.kind,
          source: of.path,
        },
        ...{ size, mtimeNs, algorithm: 'xxh64', hash, grade, copiedAt: 1, readAt: 2 },
      },
    ]);
  }
  database.close();
}

/** What is exposed of two clips (the earlier one with a sidecar) when the ledger has these copies. */
async function exposedWith(copies: Copy[], wanted: number, now: FileRecord[] = []) {
  const stateDir = folder();
  let at = 100;
  const store = await open(stateDir, () => at);
  const earlier = clipOf([PICTURE, SIDECAR], PRORES_UHD25);
  await store.catalogue.finishUnit('stripe', PICTURE.unit, [PICTURE, SIDECAR], [earlier]);
  at = 200;
  await store.catalogue.finishUnit('stripe', LATER.unit, [LATER], [clipOf([LATER], PRORES_UHD25)]);
  await store.catalogue.putFiles(now);
  await store.close();
  addCopies(stateDir, copies);
  const again = await open(stateDir);
  const first = await again.catalogue.projects(wanted);
  expect(await again.catalogue.projects(wanted)).toEqual(first);
  return first[0]?.exposed;
}

const ALL = { bytes: 1500, clips: 2, durationSeconds: 20, since: 100 };
const ONLY_LATER = { bytes: 500, clips: 1, durationSeconds: 10, since: 200 };
const on = (shelf: string, ...files: FileRecord[]): Copy[] => files.map((of) => ({ of, shelf }));

describe('exposure', () => {
  test('of two clips of one unit both are covered, by copies of all files of the unit', async () => {
    const stateDir = folder();
    const store = await open(stateDir);
    const first = clipOf([PICTURE], PRORES_UHD25);
    const second = { ...clipOf([SIDECAR], PRORES_UHD25, { kind: 'sound' }), unit: `${PICTURE.unit}#2` };
    await store.catalogue.finishUnit('stripe', PICTURE.unit, [PICTURE, SIDECAR], [first, second]);
    expect((await store.catalogue.projects(1))[0]?.exposed).toMatchObject({ clips: 2, since: AT });
    await store.close();
    addCopies(stateDir, on('shelf-a', PICTURE, SIDECAR));
    const again = await open(stateDir);
    expect((await again.catalogue.projects(1))[0]?.exposed).toMatchObject({ bytes: 0, clips: 0, since: null });
  });

  test('a clip is covered when every file of it has a verified copy, bytes of footage each by its own file', async () => {
    expect(await exposedWith(on('shelf-a', PICTURE, SIDECAR), 1)).toEqual(ONLY_LATER);
    expect(await exposedWith(on('shelf-a', PICTURE), 1)).toEqual({ ...ALL, bytes: 500 });
    expect(await exposedWith(on('shelf-a', SIDECAR), 1)).toEqual(ALL);
    expect(await exposedWith(on('shelf-a', PICTURE, SIDECAR, LATER), 1)).toEqual({
      bytes: 0,
      clips: 0,
      durationSeconds: 0,
      since: null,
    });
  });

  test('two wanted copies are on two shelves, and on two devices', async () => {
    const twice = [...on('shelf-a', PICTURE, SIDECAR), ...on('shelf-b', PICTURE, SIDECAR)];
    expect(await exposedWith(twice, 2)).toEqual(ONLY_LATER);
    expect(await exposedWith(twice, 3)).toEqual(ALL);
    expect(await exposedWith(on('shelf-a', PICTURE, SIDECAR), 2)).toEqual(ALL);
    expect(
      await exposedWith(
        twice.map((copy) => ({ ...copy, device: 'one drive' })),
        2,
      ),
    ).toEqual(ALL);
    expect(
      await exposedWith(
        twice.map((copy) => ({ ...copy, device: null })),
        2,
      ),
    ).toEqual(ONLY_LATER);
  });

  test('a copy that was not read back, or of an earlier version, is none', async () => {
    const unread = on('shelf-a', PICTURE, SIDECAR).map((copy) => ({ ...copy, grade: 'reported' as const }));
    expect(await exposedWith(unread, 1)).toEqual(ALL);
    const earlier = on('shelf-a', PICTURE, SIDECAR).map((copy) => ({ ...copy, mtimeNs: copy.of.mtimeNs - 1000n }));
    expect(await exposedWith(earlier, 1)).toEqual(ALL);
    const shorter = on('shelf-a', PICTURE, SIDECAR).map((copy) => ({ ...copy, size: copy.of.size - 1 }));
    expect(await exposedWith(shorter, 1)).toEqual(ALL);
    const grown = await exposedWith(on('shelf-a', PICTURE, SIDECAR), 1, [{ ...PICTURE, size: 1001 }]);
    expect(grown).toEqual({ bytes: 1501, clips: 1, durationSeconds: 10, since: 100 });
  });

  test('footage that is no clip is covered by file: a still, one that arrives, one that was refused', async () => {
    const changes = { project: 'Lock Keepers', size: 7 };
    const still = someFile('Lock Keepers/Day 1/S1.jpg', { ...changes, kind: 'still' });
    const arriving = someFile('Lock Keepers/Day 1/A003.mov', { ...changes, state: 'arriving' });
    const refused = someFile('Lock Keepers/Day 1/A004.mov', { ...changes, state: 'refused' });
    const clips = on('shelf-a', PICTURE, SIDECAR, LATER);
    const none = { clips: 0, durationSeconds: 0 };
    const rest = [still, arriving, refused];
    expect(await exposedWith(clips, 1, rest)).toEqual({ ...none, bytes: 21, since: 200 });
    expect(await exposedWith([...clips, ...on('shelf-b', still)], 1, rest)).toEqual({ ...none, bytes: 14, since: 200 });
    const all = await exposedWith([...clips, ...on('shelf-b', ...rest)], 1, rest);
    expect(all).toEqual({ ...none, bytes: 0, since: null });
  });

  test('a copy of one name of a content covers it under all of its names; another content is not', async () => {
    const link = { project: 'Lock Keepers', nlink: 2, ino: 77n };
    const [one, two] = ['1.mov', '2.mov'].map((name) => someFile(`Lock Keepers/Day 3/${name}`, link));
    if (one === undefined || two === undefined) throw new Error('two names');
    const alone = someFile('Lock Keepers/Day 3/3.mov', { ...link, nlink: 1, size: 9 });
    const clips = on('shelf-a', PICTURE, SIDECAR, LATER);
    for (const copied of [one, two]) {
      const exposed = await exposedWith([...clips, ...on('shelf-a', copied)], 1, [one, two, alone]);
      expect(exposed).toEqual({ bytes: 9, clips: 0, durationSeconds: 0, since: 200 });
    }
    const exposed = await exposedWith([...clips, ...on('shelf-a', alone)], 1, [one, two, alone]);
    expect(exposed).toEqual({ bytes: 1000, clips: 0, durationSeconds: 0, since: 200 });
  });
});
