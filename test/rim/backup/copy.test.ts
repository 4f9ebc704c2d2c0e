import { execFileSync } from 'node:child_process';
import {
  chmodSync,
  closeSync,
  lstatSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  statfsSync,
  statSync,
  symlinkSync,
  truncateSync,
  utimesSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, test } from 'vitest';
import type { CopyOutcome } from '../../../src/core/backup/copy-port.ts';
import {
  copyAll,
  copyPort,
  expectHonest,
  FULL_SPEED,
  footage,
  guardOf,
  type JobGround,
  jobGround,
  MARKER,
  onShelf,
} from './jobs.ts';
import { type ShelfSystem, type ShelfVolume, shelfVolume, whyNoShelf } from './shelves.ts';

const SYSTEMS: ShelfSystem[] = ['ext4', 'xfs', 'btrfs'];
const why = new Map(SYSTEMS.map((system) => [system, whyNoShelf(system)]));
for (const [system, reason] of why) {
  if (reason !== null)
    console.warn(`NOT CHECKED: copying to a shelf in ${system}. None can be mounted here: ${reason}`);
}

const MEBIBYTE = 1_048_576;
const grounds: JobGround[] = [];
const volumes: ShelfVolume[] = [];
afterEach(() => {
  for (const ground of grounds.splice(0)) ground.remove();
  for (const volume of volumes.splice(0)) volume.remove();
});

function mountedShelf(system: ShelfSystem, mebibytes?: number): ShelfVolume {
  const volume = shelfVolume(system, mebibytes);
  volumes.push(volume);
  volume.mount();
  return volume;
}

function groundOn(shelf?: string): JobGround {
  const ground = jobGround(shelf);
  grounds.push(ground);
  return ground;
}

/** xxhsum(1), of the xxHash project itself, says the same. */
function xxhsum(path: string): string {
  return execFileSync('xxhsum', ['-H1', path], { encoding: 'utf8' }).slice(0, 16);
}

const failed = (outcome: CopyOutcome | undefined) => (outcome?.is === 'failed' ? outcome.trouble : null);

describe.each(SYSTEMS)('a shelf in %s', (system) => {
  test.skipIf(why.get(system) !== null)(
    'every size around a block and a request: whole, read back from the drive, with time and mode',
    async () => {
      const { mountPoint } = mountedShelf(system, 320);
      const ground = groundOn(mountPoint);
      const sizes = [0, 1, 4095, 4096, 4097, 65_536, 102_400, 4 * MEBIBYTE, 4 * MEBIBYTE + 1, 21 * MEBIBYTE + 77];
      for (const [seed, size] of sizes.entries()) ground.add(`Saltmarsh/day 1/A001C${seed}.mov`, footage(size, seed));
      const first = ground.items[0];
      if (first === undefined) throw new Error('no item');
      chmodSync(join(ground.volume, first.source), 0o440);
      utimesSync(join(ground.volume, first.source), 1.5e9, 1_467_000_000.25);
      ground.items[0] = ground.listed(first);
      const done = await copyAll(ground);
      expect(done.end).toEqual({ ended: 'done' });
      expect(done.outcomes).toHaveLength(sizes.length);
      for (const [at, outcome] of done.outcomes.entries()) {
        expect(outcome).toMatchObject({ is: 'copied', algorithm: 'xxh64', grade: 'device', bytes: sizes[at] });
        expect(outcome).toMatchObject({ found: false, timeKept: true, modeKept: true });
        const item = ground.items[at];
        const [source, copy] = [join(ground.volume, item?.source ?? ''), join(mountPoint, item?.target ?? '')];
        expect(outcome.is === 'copied' && outcome.hash).toBe(xxhsum(source));
        const [one, other] = [statSync(source, { bigint: true }), statSync(copy, { bigint: true })];
        expect(other.mode).toBe(one.mode);
        expect(Math.abs(Number(other.mtimeNs - one.mtimeNs))).toBeLessThan(1000);
        expect(Math.abs((outcome.is === 'copied' ? outcome.verifiedAt : 0) - Date.now())).toBeLessThan(60_000);
      }
      expectHonest(ground, done);
      expect(onShelf(mountPoint)).toHaveLength(sizes.length);
    },
  );

  test.skipIf(why.get(system) !== null)('holes stay holes', async () => {
    const { mountPoint } = mountedShelf(system, 320);
    const ground = groundOn(mountPoint);
    for (const mebibytes of [3, 40]) {
      const item = ground.add(`Saltmarsh/sparse ${mebibytes}.mov`, footage(200_000, 3));
      const path = join(ground.volume, item.source);
      truncateSync(path, mebibytes * MEBIBYTE - 5);
      const fd = openSync(path, 'r+');
      writeSync(fd, footage(100_000, 9), 0, 100_000, 2 * MEBIBYTE + 17);
      closeSync(fd);
      ground.items[item.id] = ground.listed(item);
    }
    const done = await copyAll(ground);
    expect(done.outcomes.map(({ is }) => is)).toEqual(['copied', 'copied']);
    expectHonest(ground, done);
    for (const { target, source } of ground.items) {
      const copy = lstatSync(join(mountPoint, target));
      expect(copy.blocks * 512).toBeLessThan(800_000);
      expect(copy.size).toBe(lstatSync(join(ground.volume, source)).size);
    }
  });

  test.skipIf(why.get(system) !== null)('names of any bytes, and of 255 of them', async () => {
    const { mountPoint } = mountedShelf(system, 320);
    const ground = groundOn(mountPoint);
    const long = 'a'.repeat(251);
    ground.add(Buffer.from([0x41, 0xff, 0xfe, 0x2e, 0x6d, 0x6f, 0x76]), footage(5000, 1));
    ground.add(`${long}.mov`, footage(5000, 2));
    ground.add('new\nline.mov', footage(9 * MEBIBYTE, 3));
    const done = await copyAll(ground);
    expect(done.outcomes.map(({ is }) => is)).toEqual(['copied', 'copied', 'copied']);
    expectHonest(ground, done);
    expect(readdirSync(mountPoint, { encoding: 'buffer' }).some((name) => name.includes(0xff))).toBe(true);
    const tooLong = { ...ground.items[0], id: 9, target: `${long}x.mov` } as JobGround['items'][number];
    const refused = await copyAll(ground, copyPort(), [tooLong]);
    expect(failed(refused.outcomes[0])).toMatchObject({ reason: 'name-refused', path: tooLong.target });
  });

  test.skipIf(why.get(system) !== null)(
    'a full shelf: what fits is copied, what does not is told, and its room is free again',
    async () => {
      const { mountPoint } = mountedShelf(system);
      const ground = groundOn(mountPoint);
      ground.add('Saltmarsh/small.mov', footage(50_000, 1));
      ground.add('Saltmarsh/large.mov', footage(400 * MEBIBYTE, 2));
      const done = await copyAll(ground);
      expect(done.end).toEqual({ ended: 'done' });
      expect(done.outcomes[0]?.is).toBe('copied');
      expect(failed(done.outcomes[1])).toMatchObject({
        reason: 'shelf-full',
        code: 'ENOSPC',
        path: 'Saltmarsh/large.mov',
      });
      expectHonest(ground, done);
      expect(onShelf(mountPoint)).toEqual(['Saltmarsh/small.mov']);
    },
  );

  test.skipIf(why.get(system) !== null)('what fits is copied, although what does not had taken its room', async () => {
    const { mountPoint } = mountedShelf(system);
    const { bavail, bsize } = statfsSync(mountPoint);
    const ground = groundOn(mountPoint);
    // Written side by side, each comes to half of the room that there is.
    ground.add('Saltmarsh/large.mov', footage(Math.round(bavail * bsize * 1.2), 2));
    ground.add('Saltmarsh/middle.mov', footage(Math.round(bavail * bsize * 0.7), 3));
    const done = await copyAll(ground);
    expect(done.outcomes.map(({ id, is }) => [id, is]).sort()).toEqual([
      [0, 'failed'],
      [1, 'copied'],
    ]);
    expectHonest(ground, done);
    expect(onShelf(mountPoint)).toEqual(['Saltmarsh/middle.mov']);
  });

  test.skipIf(why.get(system) !== null)('a shelf that is read-only', async () => {
    const volume = mountedShelf(system);
    const ground = groundOn(volume.mountPoint);
    ground.add('Saltmarsh/one.mov', footage(50_000, 1));
    volume.unmount();
    volume.mount('-o', 'ro');
    const done = await copyAll(ground);
    expect(failed(done.outcomes[0])).toMatchObject({ reason: 'shelf-read-only', code: 'EROFS' });
    expect(onShelf(volume.mountPoint)).toEqual([]);
  });
});

describe.skipIf(why.get('ext4') !== null)('a shelf that is not there', () => {
  test('not mounted: nothing is written to the folder below it', async () => {
    const volume = mountedShelf('ext4');
    const ground = groundOn(volume.mountPoint);
    ground.add('Saltmarsh/one.mov', footage(50_000, 1));
    volume.unmount();
    const done = await copyAll(ground);
    expect(done.end).toMatchObject({ ended: 'broken', trouble: { reason: 'shelf-gone' } });
    expect(done.outcomes).toEqual([]);
    expect(readdirSync(volume.mountPoint)).toEqual([]);
  });

  test('unmounted in mid-copy: nothing counts, and nothing lands on the drive of the system', async () => {
    const volume = mountedShelf('ext4', 256);
    const ground = groundOn(volume.mountPoint);
    for (let at = 0; at < 40; at++) ground.add(`Saltmarsh/${at}.mov`, footage(5 * MEBIBYTE, at));
    const outcomes: CopyOutcome[] = [];
    let away = false;
    const job = {
      volume: ground.volume,
      shelf: guardOf(ground.shelf),
      pace: { paused: false, ceilingBps: 40 * MEBIBYTE },
    };
    const hooks = {
      settled: (batch: CopyOutcome[]) => void outcomes.push(...batch),
      progress: ({ writtenBytes }: { writtenBytes: number }) => {
        if (away || writtenBytes < 20 * MEBIBYTE) return;
        away = true;
        execFileSync('umount', ['-l', volume.mountPoint]);
        run.pace(FULL_SPEED);
      },
    };
    const run = copyPort().copy(job, ground.items, hooks, new AbortController().signal);
    expect(await run.end).toMatchObject({ ended: 'broken', trouble: { reason: 'shelf-gone' } });
    expect(away).toBe(true);
    expect(outcomes).toEqual([]);
    expect(readdirSync(volume.mountPoint)).toEqual([]);
    // Mounted again, it is taken up where it was; what had its name already is read and compared.
    execFileSync('mount', [volume.device, volume.mountPoint]);
    const again = await copyAll(ground);
    expect(again.outcomes.map(({ is }) => is)).toEqual(ground.items.map(() => 'copied'));
    expectHonest(ground, again);
    expect(onShelf(volume.mountPoint)).toHaveLength(40);
  });

  test('another shelf in its place', async () => {
    const ground = groundOn();
    ground.add('Saltmarsh/one.mov', footage(50_000, 1));
    writeFileSync(join(ground.shelf, MARKER), 'shelf-b');
    const done = await copyAll(ground);
    expect(done.end).toMatchObject({ ended: 'broken', trouble: { reason: 'shelf-gone' } });
    expect(onShelf(ground.shelf)).toEqual([]);
  });
});

describe('what is there already', () => {
  test('the same file, from an earlier job: it is read back and counts', async () => {
    const ground = groundOn();
    ground.add('Saltmarsh/small.mov', footage(50_000, 1));
    ground.add('Saltmarsh/large.mov', footage(9 * MEBIBYTE, 2));
    await copyAll(ground);
    const inode = lstatSync(join(ground.shelf, 'Saltmarsh/large.mov')).ino;
    const done = await copyAll(ground);
    for (const outcome of done.outcomes) expect(outcome).toMatchObject({ is: 'copied', found: true, timeKept: true });
    expect(lstatSync(join(ground.shelf, 'Saltmarsh/large.mov')).ino).toBe(inode);
  });

  test.each([
    ['of another size', footage(60_000, 7)],
    ['of the same size', footage(50_000, 7)],
  ])('another file %s is never overwritten', async (_, other) => {
    const ground = groundOn();
    ground.add('Saltmarsh/one.mov', footage(50_000, 1));
    mkdirSync(join(ground.shelf, 'Saltmarsh'));
    writeFileSync(join(ground.shelf, 'Saltmarsh/one.mov'), other);
    const done = await copyAll(ground);
    expect(failed(done.outcomes[0])).toMatchObject({ reason: 'target-exists', path: 'Saltmarsh/one.mov' });
    expect(readFileSync(join(ground.shelf, 'Saltmarsh/one.mov')).equals(other)).toBe(true);
    expect(onShelf(ground.shelf)).toEqual(['Saltmarsh/one.mov']);
  });

  test('a link in the place of a folder leads nowhere', async () => {
    const ground = groundOn();
    ground.add('Saltmarsh/one.mov', footage(50_000, 1));
    ground.add('Tidewater Sessions/one.mov', footage(50_000, 1));
    const outside = join(ground.volume, 'outside');
    mkdirSync(outside);
    symlinkSync(outside, join(ground.shelf, 'Saltmarsh'));
    const done = await copyAll(ground);
    expect(failed(done.outcomes[0])).toMatchObject({ reason: 'outside-shelf' });
    expect(done.outcomes[1]?.is).toBe('copied');
    expect(readdirSync(outside)).toEqual([]);
  });
});
