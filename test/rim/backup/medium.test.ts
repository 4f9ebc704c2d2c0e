import { execFileSync, spawnSync } from 'node:child_process';
import { closeSync, constants, mkdtempSync, openSync, readFileSync, readSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, test } from 'vitest';
import type { CopyOutcome, ReadOutcome } from '../../../src/core/backup/copy-port.ts';
import { cachedPages } from '../../../src/rim/backup/medium.ts';
import { pageMemory } from '../../../src/rim/base/page-memory.ts';
import { WITH_SBIN } from '../watch/mounted.ts';
import { copyAll, copyPort, expectHonest, FULL_SPEED, footage, guardOf, type JobGround, jobGround } from './jobs.ts';
import { type ShelfSystem, type ShelfVolume, shelfVolume, whyNoShelf } from './shelves.ts';

const MEBIBYTE = 1_048_576;
const BLOCK = 4096;
const why = { ext4: whyNoShelf('ext4'), xfs: whyNoShelf('xfs'), btrfs: whyNoShelf('btrfs') };
for (const [system, reason] of Object.entries(why)) {
  if (reason !== null)
    console.warn(`NOT CHECKED: a byte that changes on a drive in ${system}. None can be mounted here: ${reason}`);
}

let ground: JobGround | null = null;
let volume: ShelfVolume | null = null;
afterEach(() => {
  ground?.remove();
  volume?.remove();
  ground = volume = null;
});

function prepared(system: ShelfSystem, ...options: string[]): JobGround {
  volume = shelfVolume(system, 320);
  volume.mount(...options);
  ground = jobGround(volume.mountPoint);
  ground.add('Saltmarsh/small.mov', footage(300_000, 1));
  ground.add('Saltmarsh/large.mov', footage(9 * MEBIBYTE, 2));
  return ground;
}

async function readBack({ shelf, items }: JobGround, outcomes: CopyOutcome[]): Promise<ReadOutcome[]> {
  const read: ReadOutcome[] = [];
  const asked = items.map(({ id, target, size }) => {
    const copied = outcomes[id];
    return { id, path: target, size, expected: copied?.is === 'copied' ? copied.hash : null };
  });
  const job = { place: { shelf: guardOf(shelf) }, pace: FULL_SPEED };
  const hooks = { settled: (batch: ReadOutcome[]) => void read.push(...batch) };
  expect(await copyPort().readBack(job, asked, hooks, new AbortController().signal).end).toEqual({ ended: 'done' });
  return read.sort((a, b) => a.id - b.id);
}

/** Turns one bit of a file's second block on the device itself, below the file system; the page cache does not hear of it. */
function turnBit({ mountPoint, device }: ShelfVolume, path: string): void {
  execFileSync('sync', ['-f', mountPoint]);
  const told = execFileSync('filefrag', ['-b4096', '-v', join(mountPoint, path)], { encoding: 'utf8', env: WITH_SBIN });
  const first = Number(/^ *0: +0\.\. *\d+: +(\d+)\.\./m.exec(told)?.[1]);
  expect(first).toBeGreaterThan(0);
  const memory = pageMemory(BLOCK);
  const fd = openSync(device, constants.O_RDWR | constants.O_DIRECT);
  readSync(fd, memory, 0, BLOCK, (first + 1) * BLOCK);
  memory[1234] = (memory[1234] ?? 0) ^ 0x10;
  writeSync(fd, memory, 0, BLOCK, (first + 1) * BLOCK);
  closeSync(fd);
}

/** Now every page of it is in the cache. */
function warm(path: string): Buffer {
  return readFileSync(path);
}

describe.each(['ext4', 'xfs'] as const)('%s', (system) => {
  test.skipIf(why[system] !== null)(
    'a bit that turned on the drive is found under a warm cache, in small and large files',
    async () => {
      const mine = prepared(system);
      const { outcomes } = await copyAll(mine);
      expect((await readBack(mine, outcomes)).every((one) => one.is === 'read' && one.matches)).toBe(true);
      for (const { target, source } of mine.items) {
        const path = join(mine.shelf, target);
        warm(path);
        turnBit(volume as ShelfVolume, target);
        // Who reads it through the cache is told that all is well.
        expect(warm(path).equals(readFileSync(join(mine.volume, source)))).toBe(true);
      }
      for (const one of await readBack(mine, outcomes))
        expect(one).toMatchObject({ is: 'read', matches: false, grade: 'device' });
    },
  );
});

test.skipIf(why.ext4 !== null)(
  'ext4 that journals data takes O_DIRECT and reads through its cache all the same: put out of it first',
  async () => {
    const mine = prepared('ext4', '-o', 'data=journal');
    const { outcomes } = await copyAll(mine);
    for (const one of outcomes) expect(one.is === 'copied' && one.grade).toMatch(/^(cache-dropped|reported)$/);
    // Journalled pages are in the cache until they are in their place.
    volume?.unmount();
    volume?.mount('-o', 'data=journal');
    for (const { target } of mine.items) {
      warm(join(mine.shelf, target));
      turnBit(volume as ShelfVolume, target);
      const [before] = await cachedPages([join(mine.shelf, target)]);
      expect(before).toBeGreaterThan(10);
    }
    for (const one of await readBack(mine, outcomes))
      expect(one).toMatchObject({ is: 'read', matches: false, grade: 'cache-dropped' });
  },
);

test.skipIf(why.btrfs !== null)(
  'btrfs that compresses is put out of the cache first; one that does not is read past it',
  async () => {
    const mine = prepared('btrfs', '-o', 'compress-force=zstd');
    mine.add('Saltmarsh/zeros.mov', Buffer.alloc(2 * MEBIBYTE, 'abcd'));
    const { outcomes } = await copyAll(mine);
    expect(outcomes.map((one) => one.is === 'copied' && one.grade)).toContain('cache-dropped');
    for (const { target } of mine.items) warm(join(mine.shelf, target));
    const read = await readBack(mine, outcomes);
    for (const one of read) expect(one).toMatchObject({ is: 'read', matches: true });
    expect(read.map((one) => one.is === 'read' && one.grade)).toContain('cache-dropped');
  },
);

describe.skipIf(why.ext4 !== null)('what is no drive', () => {
  test.each(['tmpfs', 'ramfs'])('%s: copied, and called no more than reported', async (system) => {
    const folder = mkdtempSync(join(tmpdir(), 'headroomd-memory-'));
    execFileSync('mount', ['-t', system, system, folder]);
    try {
      ground = jobGround(folder);
      ground.add('Saltmarsh/small.mov', footage(300_000, 1));
      ground.add('Saltmarsh/large.mov', footage(9 * MEBIBYTE + 3, 2));
      const done = await copyAll(ground);
      for (const one of done.outcomes) expect(one).toMatchObject({ is: 'copied', grade: 'reported' });
      expectHonest(ground, done);
    } finally {
      spawnSync('umount', ['-l', folder]);
      rmSync(folder, { recursive: true, force: true });
    }
  });
});

test.skipIf(why.btrfs !== null)(
  'btrfs finds a turned bit by itself: reading fails, and the file is named',
  async () => {
    const mine = prepared('btrfs');
    const { outcomes } = await copyAll(mine);
    expect(outcomes.every((one) => one.is === 'copied' && one.grade === 'device')).toBe(true);
    volume?.unmount();
    const image = volume?.device ?? '';
    const bytes = readFileSync(image);
    const needle = footage(9 * MEBIBYTE, 2).subarray(8192, 8292);
    const at = bytes.indexOf(needle);
    expect(at).toBeGreaterThan(0);
    const fd = openSync(image, 'r+');
    writeSync(fd, Buffer.from([(bytes[at] ?? 0) ^ 1]), 0, 1, at);
    closeSync(fd);
    volume?.mount();
    const read = await readBack(mine, outcomes);
    expect(read[0]).toMatchObject({ is: 'read', matches: true });
    expect(read[1]).toMatchObject({
      is: 'failed',
      trouble: { reason: 'shelf-damaged', code: 'EIO', path: 'Saltmarsh/large.mov' },
    });
  },
);
