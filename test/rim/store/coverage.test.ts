import type { DatabaseSync } from 'node:sqlite';
import { describe, expect, test } from 'vitest';
import type { FileRecord } from '../../../src/core/model.ts';
import { openCatalogueWrites } from '../../../src/rim/store/catalogue-writes.ts';
import { openCopyRows } from '../../../src/rim/store/copy-rows.ts';
import { openCoverage } from '../../../src/rim/store/coverage.ts';
import { openForget } from '../../../src/rim/store/forget.ts';
import { openState } from '../../../src/rim/store/open.ts';
import { openShelfKeys } from '../../../src/rim/store/shelf-keys.ts';
import { openSums } from '../../../src/rim/store/sums.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { AT, stateFolders } from './state-folder.ts';

const { cleanup, folder } = stateFolders();
const PROJECT = 'Tidewater Sessions';
const [A, B] = [someFile(`${PROJECT}/A001.mov`, { size: 1000 }), someFile(`${PROJECT}/B001.mov`, { size: 500 })];

function copy(database: DatabaseSync, { path, size, mtimeNs }: FileRecord): void {
  const [dir = null, name = ''] = path.split('/');
  const kept = {
    shelf: 'id-a',
    volume: 'stripe',
    project: dir,
    kind: 'original' as const,
    algorithm: 'xxh64' as const,
  };
  openCopyRows(database).put([
    {
      ...{ ...kept, path: `stripe/${path}`, source: path, size, mtimeNs, hash: `${name} ${size}`, grade: 'device' },
      ...{ copiedAt: 1, readAt: 2 },
    },
  ]);
}

/** Two clips that have their copy. Every look at the clock takes so many ms. */
function stage(lookMs: number) {
  const state = openState({ stateDir: folder(), at: AT });
  cleanup(() => state.close(true));
  const { database } = state;
  const writes = openCatalogueWrites(database, openSums(database));
  const forget = openForget(database, writes);
  let ms = 0;
  const coverage = openCoverage(database, openShelfKeys(database), () => {
    ms += lookMs;
    return ms;
  });
  for (const file of [A, B]) {
    const clips = [clipOf([file], PRORES_UHD25)];
    writes.finishUnit('stripe', file.unit, { files: [file], beside: [], clips }, AT);
    copy(database, file);
  }
  return {
    database,
    put: (file: FileRecord) => writes.putFiles([file], AT),
    forget: (path: string) => void forget('stripe', [path], { only: null, at: AT }),
    wait(by: number) {
      ms += by;
    },
    covered() {
      coverage.refresh({ copies: 1, byVolume: {} }, null);
      const { bytes, clips } = coverage.of({ volume: 'stripe', area: 'project', project: PROJECT }).footageTotal;
      return [bytes, clips];
    },
  };
}

describe('coverage that takes long to count', () => {
  test('a file that changed is exposed at once; its new copy counts when it is counted again', () => {
    const s = stage(100);
    expect(s.covered()).toEqual([1500, 2]);
    const changed = { ...A, size: 1200, mtimeNs: A.mtimeNs + 1n };
    s.put(changed);
    expect(s.covered()).toEqual([500, 1]);
    copy(s.database, changed);
    expect(s.covered()).toEqual([500, 1]);
    s.wait(5_000);
    expect(s.covered()[0]).toBe(1700);
  });

  test('a file that joins a take makes its clip exposed at once, one that goes is not counted', () => {
    const s = stage(100);
    expect(s.covered()).toEqual([1500, 2]);
    s.put(someFile(`${PROJECT}/A001.wav`, { unit: A.unit, kind: 'sound', state: 'arriving' }));
    expect(s.covered()).toEqual([1500, 1]);
    s.forget(B.path);
    expect(s.covered()).toEqual([1000, 0]);
  });

  test('files that are put again as they are leave it as it is', () => {
    const s = stage(100);
    expect(s.covered()).toEqual([1500, 2]);
    s.put(A);
    expect(s.covered()).toEqual([1500, 2]);
  });
});

test('what is taken out between two counts is taken off once, however often it is asked; a new count begins anew', () => {
  const s = stage(100);
  expect(s.covered()).toEqual([1500, 2]);
  s.forget(B.path);
  expect([s.covered(), s.covered()]).toEqual([
    [1000, 1],
    [1000, 1],
  ]);
  s.put(B);
  expect(s.covered()).toEqual([1000, 1]);
  s.wait(5_000);
  expect(s.covered()[0]).toBe(1500);
  s.forget(A.path);
  expect(s.covered()[0]).toBe(500);
});

test('where counting is quick every change is counted at once', () => {
  const s = stage(1);
  expect(s.covered()).toEqual([1500, 2]);
  const changed = { ...A, size: 1200, mtimeNs: A.mtimeNs + 1n };
  s.put(changed);
  copy(s.database, changed);
  expect(s.covered()[0]).toBe(1700);
});
