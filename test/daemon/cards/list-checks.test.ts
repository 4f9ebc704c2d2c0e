import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { lstatSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { CopyPort, Pace, ReadItem } from '../../../src/core/backup/copy-port.ts';
import { reconcile } from '../../../src/core/cards/reconcile.ts';
import { type CardEntry, newEntry } from '../../../src/daemon/cards/card-entry.ts';
import { createListChecks, type ListChecks } from '../../../src/daemon/cards/list-checks.ts';
import { createStoreTrouble } from '../../../src/daemon/store-trouble.ts';
import { createCopyPort } from '../../../src/rim/backup/copy-port.ts';
import { createListPort } from '../../../src/rim/manifest/list-port.ts';
import { openStore, type Store } from '../../../src/rim/store/store.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { someFile } from '../../contracts/catalogue.material.ts';

/** Lists by md5sum(1) of GNU coreutils, real files, the real reading process and the real ledger. */
const silent = { debug() {}, info() {}, warn() {}, error() {} };
const listEntry = fileURLToPath(new URL('../../../src/daemon/compose-list.ts', import.meta.url));
const BASE = 'Saltmarsh/Day 3';
const NAMES = ['A001.mov', 'A002.mov', 'A003.mov'];

let place: string;
let store: Store;
let checks: ListChecks;
let asked: string[];
let pace: Pace;

beforeEach(async () => {
  place = mkdtempSync(join(tmpdir(), 'headroomd-list-checks-'));
  const folder = join(place, 'stripe', BASE);
  mkdirSync(folder, { recursive: true });
  for (const [n, name] of NAMES.entries()) writeFileSync(join(folder, name), Buffer.alloc(3_000_000 + n, name));
  writeFileSync(join(folder, 'day3.md5'), execFileSync('md5sum', NAMES, { cwd: folder }));
  pace = { paused: false, ceilingBps: null };
  await begin();
});
afterEach(async () => {
  await end();
  rmSync(place, { recursive: true });
});

async function begin(): Promise<void> {
  store = await openStore({ stateDir: join(place, 'state'), now: () => 0, log: silent });
  asked = [];
  const copies = createCopyPort({ clock: systemClock });
  const readBack: CopyPort['readBack'] = (job, items, hooks, signal) => {
    const all = [...(items as Iterable<ReadItem>)];
    asked.push(...all.map(({ path }) => path));
    return copies.readBack(job, all, hooks, signal);
  };
  checks = createListChecks({
    rootOf: () => join(place, 'stripe'),
    lists: createListPort(listEntry),
    contents: store.cards,
    keptLists: store.cards,
    reader: { readBack },
    pace: () => pace,
    trouble: createStoreTrouble(systemClock, silent),
    clock: systemClock,
    log: silent,
    digest: (text) => createHash('sha256').update(text).digest('hex'),
    changed: () => {},
    listed: () => {},
  });
}

async function end(): Promise<void> {
  await checks.stop();
  await store.close();
}

/** The files as the catalogue would know them. */
async function arrive(): Promise<void> {
  await store.catalogue.putFiles(
    NAMES.map((name) => {
      const path = `${BASE}/${name}`;
      const { size, mtimeNs, ctimeNs, ino, dev } = lstatSync(join(place, 'stripe', path), { bigint: true });
      return someFile(path, { size: Number(size), mtimeNs, ctimeNs, ino, dev });
    }),
  );
}

async function entryOf(): Promise<CardEntry> {
  const files = NAMES.map((path) => ({ path, size: null, mtimeMs: null }));
  const head = {
    ...({ id: 'm-1', source: 'manifest', name: 'Day 3', layout: null, place: `${BASE}/day3.md5` } as const),
    ...{ on: { volume: 'stripe', base: BASE }, takenAt: 1, gap: null },
  };
  const found = await store.cards.filesAt(NAMES.map((name) => ({ volume: 'stripe', path: `${BASE}/${name}` })));
  return { ...newEntry(head, files), reconciliation: reconcile({ ...head, files }, [], found) };
}

async function until(holds: () => boolean, seconds = 20): Promise<void> {
  const ends = performance.now() + seconds * 1000;
  while (!holds()) {
    if (performance.now() > ends) throw new Error(`not within ${seconds} s`);
    await sleep(20);
  }
}

describe('a list beside real files', () => {
  test('each file is read once; after a restart the ledger knows them all', async () => {
    const altered = join(place, 'stripe', BASE, 'A002.mov');
    const bytes = readFileSync(altered);
    bytes[1_000_000] = (bytes[1_000_000] ?? 0) ^ 4;
    writeFileSync(altered, bytes);
    await arrive();
    const entry = await entryOf();
    checks.update([entry], false);
    await until(() => entry.check?.pending === 0);
    expect(entry.check).toMatchObject({ files: 3, intact: 2, altered: 1, missing: 0, unproved: 0 });
    expect(entry.completeAt).toBeNull();
    expect(entry.check?.first.altered).toMatchObject([
      { path: 'A002.mov', format: 'md5', found: execFileSync('md5sum', [altered], { encoding: 'utf8' }).slice(0, 32) },
    ]);
    expect(asked).toEqual(NAMES.map((name) => `${BASE}/${name}`));
    // Nothing changed: nothing is done.
    checks.update([entry], true);
    await end();

    await begin();
    const same = await entryOf();
    checks.update([same], false);
    await until(() => same.check !== null);
    expect(same.check).toMatchObject({ intact: 2, altered: 1, pending: 0 });
    expect(asked).toEqual([]);
  });

  test('while playback leaves little nothing is read, and it goes on by itself', async () => {
    pace = { paused: true, ceilingBps: null };
    await arrive();
    const entry = await entryOf();
    checks.update([entry], false);
    await until(() => entry.check?.pending === 3);
    await sleep(1_500);
    expect(entry.check).toMatchObject({ intact: 0, pending: 3 });
    pace = { paused: false, ceilingBps: null };
    await until(() => entry.check?.intact === 3);
  });

  test('a file that is another version by now is not taken for the one that is known', async () => {
    await arrive();
    const entry = await entryOf();
    writeFileSync(join(place, 'stripe', BASE, 'A003.mov'), Buffer.alloc(3_000_002, 'x'));
    checks.update([entry], false);
    await until(() => entry.check?.intact === 2);
    expect(entry.check).toMatchObject({ altered: 0, pending: 1 });
    await arrive();
    const now = await entryOf();
    checks.update([now], false);
    await until(() => now.check?.altered === 1);
  });

  test('a list that says something else now is compared again', async () => {
    await arrive();
    const entry = await entryOf();
    checks.update([entry], false);
    await until(() => entry.check?.intact === 3);
    await until(() => entry.completeAt !== null);
    const list = join(place, 'stripe', BASE, 'day3.md5');
    writeFileSync(list, readFileSync(list, 'utf8').replace(/^[0-9a-f]{32}/, 'f'.repeat(32)));
    checks.forget('m-1');
    checks.update([entry], false);
    await until(() => entry.check?.altered === 1);
    expect(entry.check?.first.altered[0]).toMatchObject({ path: 'A001.mov', listed: 'f'.repeat(32) });
  });
});
