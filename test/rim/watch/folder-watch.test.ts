import { mkdirSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import { eachFolder } from '../../../src/rim/watch/each-folder.ts';
import type { FolderWatch, OpenFolderWatch } from '../../../src/rim/watch/folder-watch.ts';
import { treeWatch } from '../../../src/rim/watch/tree-watch.ts';
import { kernelWatches } from './kernel-watches.ts';
import { temporaryFolder } from './watched.ts';

/** What must hold for both ways of watching. The one by trees is for other systems; here it watches each folder too. */
const BACKENDS: { name: string; open: OpenFolderWatch; anyBytes: boolean }[] = [
  { name: 'each folder', open: eachFolder, anyBytes: true },
  { name: 'tree', open: treeWatch, anyBytes: false },
];

let base: string;
let watch: FolderWatch;
let touched: string[];
let unclear: string[];
let failed: string[];

const at = (path: string) => join(base, path);
const odd = Buffer.from([0x44, 0xff]);

function begin(open: OpenFolderWatch): void {
  base = temporaryFolder();
  [touched, unclear, failed] = [[], [], []];
  watch = open(
    { base, device: statSync(base, { bigint: true }).dev, skip: (path) => path === 'left out' },
    {
      touched: (path) => void touched.push(path),
      unclear: (dir) => void unclear.push(dir),
      failed: (dir, { code }) => void failed.push(`${dir} ${code}`),
    },
  );
}

/** Told by name, or its folder said to be read: either finds it. */
async function told(path: string, ms = 3000): Promise<void> {
  const dir = path.includes('/') ? path.slice(0, path.lastIndexOf('/')) : '';
  for (const end = performance.now() + ms; performance.now() < end; await pause(10))
    if (touched.includes(path) || unclear.includes(dir)) return;
  throw new Error(
    `${path} was not told; touched ${touched.join()}; unclear ${unclear.join()}; failed ${failed.join()}`,
  );
}

function forget(): void {
  touched.length = 0;
  unclear.length = 0;
}

describe.each(BACKENDS)('a watch by $name', ({ open, anyBytes }) => {
  beforeEach(() => begin(open));
  afterEach(() => {
    watch.close();
    rmSync(base, { recursive: true });
  });

  test('tells what is made, written, renamed and removed, from the moment it is through', async () => {
    mkdirSync(at('card'));
    await watch.watch('');
    await watch.watch('card');
    writeFileSync(at('card/a.mov'), 'x');
    await told('card/a.mov');
    await pause(300);
    forget();
    writeFileSync(at('card/a.mov'), 'longer');
    await told('card/a.mov');
    await pause(300);
    forget();
    renameSync(at('card/a.mov'), at('card/b.mov'));
    await told('card/a.mov');
    await told('card/b.mov');
    await pause(300);
    forget();
    rmSync(at('card/b.mov'));
    await told('card/b.mov');
    expect(failed).toEqual([]);
  });

  test('a folder that is new, and what is in it', async () => {
    await watch.watch('');
    mkdirSync(at('card'));
    await told('card');
    forget();
    await watch.watch('card');
    writeFileSync(at('card/a.mov'), 'x');
    await told('card/a.mov');
  });

  test('a folder that was renamed, once it is watched under its new name', async () => {
    mkdirSync(at('day 1'));
    await watch.watch('');
    await watch.watch('day 1');
    renameSync(at('day 1'), at('day 2'));
    await told('day 2');
    await watch.watch('day 2');
    watch.unwatch('day 1');
    await pause(500);
    forget();
    writeFileSync(at('day 2/a.mov'), 'x');
    await told('day 2/a.mov');
    expect(touched).not.toContain('day 1/a.mov');
  });

  test('a folder removed and made again at once, with the same inode where the file system gives it', async () => {
    mkdirSync(at('card'));
    await watch.watch('');
    await watch.watch('card');
    for (let round = 0; round < 5; round += 1) {
      rmSync(at('card'), { recursive: true });
      mkdirSync(at('card'));
      await watch.watch('card');
      await told('card');
      forget();
      writeFileSync(at(`card/${round}.mov`), 'x');
      await told(`card/${round}.mov`);
    }
  });

  test('the root itself removed and made again: it is said to be read', async () => {
    await watch.watch('');
    rmSync(base, { recursive: true });
    mkdirSync(base);
    for (const end = performance.now() + 3000; !unclear.includes('') && performance.now() < end; ) await pause(20);
    expect(unclear).toContain('');
    await watch.watch('');
    forget();
    await pause(500);
    writeFileSync(at('a.mov'), 'x');
    await told('a.mov');
  });

  test('a folder moved out of the root and in again', async () => {
    const elsewhere = temporaryFolder();
    mkdirSync(at('card'));
    await watch.watch('');
    await watch.watch('card');
    renameSync(at('card'), join(elsewhere, 'card'));
    await told('card');
    watch.unwatch('card');
    await pause(500);
    forget();
    writeFileSync(join(elsewhere, 'card/out.mov'), 'x');
    renameSync(join(elsewhere, 'card'), at('card'));
    await told('card');
    await watch.watch('card');
    await pause(500);
    forget();
    writeFileSync(at('card/in.mov'), 'x');
    await told('card/in.mov');
    rmSync(elsewhere, { recursive: true });
  });

  test('names that are no UTF-8: told, or at least that something happened there', async () => {
    await watch.watch('');
    writeFileSync(Buffer.concat([Buffer.from(`${base}/`), odd]), 'x');
    await told(fromBytes(odd));
  });

  // Systems that watch trees keep no such names.
  if (anyBytes)
    test('a folder whose name is no UTF-8', async () => {
      const folder = Buffer.concat([Buffer.from(`${base}/`), odd]);
      mkdirSync(folder);
      await watch.watch(fromBytes(odd));
      writeFileSync(Buffer.concat([folder, Buffer.from('/a.mov')]), 'x');
      await told(`${fromBytes(odd)}/a.mov`);
    });

  test('a folder that is not there: no throw, and it can be watched when it is', async () => {
    await watch.watch('');
    await watch.watch('later');
    mkdirSync(at('later'));
    await told('later');
    forget();
    await watch.watch('later');
    writeFileSync(at('later/a.mov'), 'x');
    await told('later/a.mov');
  });

  test('after it is closed nothing is told, also when it had just begun', async () => {
    const begun = watch.watch('');
    watch.close();
    await Promise.race([begun, pause(1000)]);
    writeFileSync(at('a.mov'), 'x');
    await pause(500);
    expect([touched, unclear, failed]).toEqual([[], [], []]);
    expect(watch.watch('')).toBeUndefined();
  });
});

test('the kernel holds one watch for each folder, whatever happened to them, and none in the end', async () => {
  begin(eachFolder);
  const before = kernelWatches('self');
  const held = () => kernelWatches('self') - before;
  for (const path of ['a', 'a/b', 'a/b/c', 'd']) mkdirSync(at(path));
  const all = ['', 'a', 'a/b', 'a/b/c', 'd'];
  for (const dir of [...all, ...all]) void watch.watch(dir);
  expect(held()).toBe(5);
  renameSync(at('a'), at('d/a'));
  for (const dir of ['d/a', 'd/a/b', 'd/a/b/c']) void watch.watch(dir);
  expect(held()).toBe(5);
  for (const dir of ['a', 'a/b', 'a/b/c', 'never']) watch.unwatch(dir);
  expect(held()).toBe(5);
  rmSync(at('d/a'), { recursive: true });
  expect(held()).toBe(2);
  for (const dir of ['d/a', 'd/a/b', 'd/a/b/c']) void watch.watch(dir);
  expect([held(), failed]).toEqual([2, ['d/a ENOENT', 'd/a/b ENOENT', 'd/a/b/c ENOENT']]);
  watch.close();
  await pause(50);
  expect(held()).toBe(0);
  rmSync(base, { recursive: true });
});
