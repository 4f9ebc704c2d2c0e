import { execFileSync } from 'node:child_process';
import {
  existsSync,
  lstatSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { BackupRun } from '../../../src/core/backup/backup-run.ts';
import { PROJECT_FILE_RANK } from '../../../src/core/backup/copies.ts';
import { whyNoShelf } from '../../rim/backup/shelves.ts';
import { WITH_SBIN } from '../../rim/watch/mounted.ts';
import { realShelf } from './real-shelf.ts';

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: backups to a real shelf: ${why}`);

describe.skipIf(why !== null)('a backup to a shelf on a drive of its own', () => {
  let place: Awaited<ReturnType<typeof realShelf>>;
  beforeEach(async () => {
    place = await realShelf();
  });
  afterEach(() => place.clear());
  const onShelf = (path: string) => readFileSync(join(place.shelf.path, path), 'utf8');

  test('copies what the shelf lacks, footage first, and takes it out of what is exposed; the next finds nothing to do', async () => {
    await place.put('Saltmarsh/edit.project', 'cut one', 'project-file');
    await place.put('Saltmarsh/Footage/A001.mov', 'a'.repeat(5_000_000));
    await place.put('Saltmarsh/Footage/A001.xml', '<a/>', 'sidecar');
    await place.put('Saltmarsh/Caches/1.dat', 'cache', 'cache');
    expect(await place.exposedBytes()).toBe(5_000_000);
    const run = await place.run();
    expect(run).toMatchObject({
      ...{ stage: 'done', files: 3, verifiedFiles: 3, verifiedBytes: 5_000_011, failures: 0, why: null },
      wanted: { files: 3, bytes: 5_000_011 },
    });
    expect(await place.exposedBytes()).toBe(0);
    expect(onShelf('stripe/Saltmarsh/Footage/A001.mov')).toBe('a'.repeat(5_000_000));
    expect(readdirSync(join(place.shelf.path, 'stripe/Saltmarsh')).toSorted()).toEqual([
      'Footage',
      'ascmhl',
      'edit.project',
    ]);
    expect(await place.run()).toMatchObject({ stage: 'done', files: 0, wanted: { files: 0 } });
  });

  test('a changed project file goes in the place of the earlier version, which is kept; a changed original does not', async () => {
    await place.put('Saltmarsh/edit.project', 'cut one', 'project-file');
    await place.put('Saltmarsh/A001.mov', 'as it was shot');
    await place.run();
    await place.put('Saltmarsh/edit.project', 'cut two!', 'project-file');
    await place.put('Saltmarsh/A001.mov', 'as something made of it');
    const run = await place.run();
    expect(run).toMatchObject({ stage: 'done', files: 2, failures: 0, altered: ['Saltmarsh/A001.mov'] });
    expect(onShelf('stripe/Saltmarsh/edit.project')).toBe('cut two!');
    expect(onShelf('stripe/Saltmarsh/A001.mov')).toBe('as it was shot');
    const [stamp = ''] = readdirSync(join(place.shelf.path, 'Earlier versions/stripe'));
    expect(stamp).toMatch(/^\d{4}-\d\d-\d\d \d{6}$/);
    expect(onShelf(`Earlier versions/stripe/${stamp}/Saltmarsh/edit.project`)).toBe('cut one');
    expect(onShelf(`Earlier versions/stripe/${stamp}/Saltmarsh/A001.mov`)).toBe('as something made of it');
    expect(await place.exposedBytes()).toBe(0);
    // It stands until somebody has looked.
    expect(await place.run()).toMatchObject({ files: 0, altered: ['Saltmarsh/A001.mov'] });
    await place.put('Saltmarsh/A001.mov', 'as it was shot');
    expect(await place.run()).toMatchObject({ files: 0, altered: [] });
  });

  test('of project files alone: versions by the hour, none in the middle of a save, and footage waits for its own', async () => {
    await place.put('Saltmarsh/edit.project', 'cut one', 'project-file');
    await place.put('Saltmarsh/title.psd', 'graphics', 'graphics');
    await place.put('Saltmarsh/A001.mov', 'footage');
    const hourly = { cause: 'project-files', onlyRank: PROJECT_FILE_RANK } as const;
    expect(await place.run(hourly)).toMatchObject({ stage: 'done', files: 2, wanted: null, cause: 'project-files' });
    expect(existsSync(join(place.shelf.path, 'stripe/Saltmarsh/A001.mov'))).toBe(false);
    await place.put('Saltmarsh/edit.project', 'cut two!', 'project-file');
    const saved = join(place.volume.path, 'Saltmarsh/edit.project');
    utimesSync(saved, new Date(), new Date());
    await place.know('Saltmarsh/edit.project', 'project-file');
    expect(await place.run(hourly)).toMatchObject({ stage: 'done', files: 0, changed: 1, failures: 0 });
    expect(onShelf('stripe/Saltmarsh/edit.project')).toBe('cut one');
    place.skip(3 * 60_000);
    expect(await place.run(hourly)).toMatchObject({ files: 1, changed: 0 });
    expect(onShelf('stripe/Saltmarsh/edit.project')).toBe('cut two!');
    const [stamp = ''] = readdirSync(join(place.shelf.path, 'Earlier versions/stripe'));
    expect(onShelf(`Earlier versions/stripe/${stamp}/Saltmarsh/edit.project`)).toBe('cut one');
  });

  test('lists hold the hashes that are asked for, as other programs reckon them, and xxh64 always', async () => {
    const large = Buffer.alloc(9_000_001, 'footage of the lock at dawn ');
    await place.put('Saltmarsh/A000.mov', 'copied before any other hash was asked for');
    await place.run();
    await place.put('Saltmarsh/A001.mov', 'as it was shot');
    await place.put('Saltmarsh/A002.mov', large);
    expect(await place.run({ hashes: ['md5', 'sha1', 'xxh128'] })).toMatchObject({
      stage: 'done',
      files: 2,
      failures: 0,
    });
    const folder = join(place.shelf.path, 'stripe/Saltmarsh');
    const list =
      readdirSync(join(folder, 'ascmhl'))
        .filter((name) => name.endsWith('.mhl'))
        .toSorted()
        .at(-1) ?? '';
    const text = readFileSync(join(folder, 'ascmhl', list), 'utf8');
    const listed = (name: string, format: string) =>
      new RegExp(`<path[^>]*>${name}</path>[\\s\\S]*?<${format}[^>]*>([0-9a-f]+)<`).exec(text)?.[1];
    // md5sum, sha1sum: GNU coreutils; xxhsum: the reference implementation of xxHash.
    const reckoned = (...command: string[]) =>
      execFileSync(command[0] ?? '', command.slice(1), { encoding: 'utf8' })
        .split(' ')[0]
        ?.replace(/^\\\\/, '');
    for (const name of ['A001.mov', 'A002.mov']) {
      const path = join(folder, name);
      expect(listed(name, 'md5')).toBe(reckoned('md5sum', path));
      expect(listed(name, 'sha1')).toBe(reckoned('sha1sum', path));
      expect(listed(name, 'xxh128')).toBe(reckoned('xxhsum', '-H2', path));
      expect(listed(name, 'xxh64')).toBe(reckoned('xxhsum', '-H1', path));
    }
  });

  test('a copy that changed on its drive is found when it is read again; which side changed is told, and neither is touched', async () => {
    await place.put('Saltmarsh/A001.mov', 'as it was shot');
    await place.put('Saltmarsh/A002.mov', 'another');
    await place.put('Saltmarsh/A003.mov', 'taken away');
    await place.run();
    const copy = join(place.shelf.path, 'stripe/Saltmarsh/A001.mov');
    writeFileSync(copy, 'as it was shXt');
    rmSync(join(place.shelf.path, 'stripe/Saltmarsh/A003.mov'));
    // Sixty days later.
    place.skip(60 * 86_400_000);
    const run = await place.run();
    expect(run).toMatchObject({
      ...{ stage: 'done', reread: 3, gone: 1, files: 0 },
      bad: [{ path: 'stripe/Saltmarsh/A001.mov', source: 'Saltmarsh/A001.mov', state: 'differs', is: 'as-copied' }],
    });
    expect(readFileSync(copy, 'utf8')).toBe('as it was shXt');
    expect(await place.exposedBytes()).toBe(24);
    // The next one makes good copies, beside the bad one; which stays bad until somebody puts it right.
    expect(await place.run()).toMatchObject({ files: 2, reread: 1, bad: [{ is: 'as-copied' }] });
    expect(await place.exposedBytes()).toBe(0);
    writeFileSync(copy, 'as it was shot');
    expect(await place.run()).toMatchObject({ reread: 1, bad: [] });
    await place.put('Saltmarsh/A002.mov', 'ANOTHER');
    writeFileSync(join(place.shelf.path, 'stripe/Saltmarsh/A002.mov'), 'lost');
    place.skip(60 * 86_400_000);
    expect(await place.run()).toMatchObject({ bad: [{ state: 'differs', is: 'differs' }] });
  });

  test('a file that was only touched needs no other copy, and is no alarm; its copy counts for it as before', async () => {
    await place.put('Saltmarsh/A001.mov', 'as it was shot');
    await place.put('Saltmarsh/edit.project', 'cut one', 'project-file');
    await place.run();
    const later = new Date(Date.now() + 60_000);
    for (const [path, kind] of [
      ['Saltmarsh/A001.mov', 'original'],
      ['Saltmarsh/edit.project', 'project-file'],
    ] as const) {
      const at = join(place.volume.path, path);
      const content = readFileSync(at);
      await place.put(path, content, kind);
      utimesSync(at, later, later);
      await place.know(path, kind);
    }
    expect(await place.exposedBytes()).toBe(14);
    expect(await place.run()).toMatchObject({ stage: 'done', files: 0, altered: [], failures: 0 });
    expect(await place.exposedBytes()).toBe(0);
    expect(existsSync(join(place.shelf.path, 'Earlier versions'))).toBe(false);
  });

  test('with its drive away nothing is written into the folder that is left', async () => {
    await place.put('Saltmarsh/A001.mov', 'one');
    await place.run();
    await place.put('Saltmarsh/A002.mov', 'two');
    place.shelfDrive.unmount();
    const run = await place.run();
    // Here the folder lies on the drive of the working volume; on another one its marker is missing.
    expect(run).toMatchObject({ stage: 'refused', files: 0, why: { reason: 'same-device' } });
    expect(readdirSync(place.shelf.path)).toEqual([]);
    place.shelfDrive.mount();
    expect(await place.run()).toMatchObject({ stage: 'done', files: 1 });
  });

  test('a drive that goes in mid-copy ends the run; what was told before stays, and the rest is copied when it is back', async () => {
    // More than one batch: a shelf is looked at before each.
    const frames = Array.from({ length: 2_500 }, (_, index) => `Saltmarsh/frames/${index}.dpx`);
    for (const frame of frames) await place.put(frame, Buffer.alloc(4_000, frame));
    place.setPace({ paused: false, ceilingBps: 6_000_000 });
    let pulled = false;
    const run = await place.run({
      changed: ({ movedBytes }: BackupRun) => {
        if (movedBytes < 2_000_000 || pulled) return;
        pulled = true;
        // As a pulled cable does it: who has a file open there keeps it.
        execFileSync('umount', ['-l', place.shelf.path], { env: WITH_SBIN });
      },
    });
    expect(pulled).toBe(true);
    expect(run.stage).toBe('broken');
    expect(run.why?.reason).toBe('shelf-gone');
    expect(readdirSync(place.shelf.path)).toEqual([]);
    expect(await place.exposedBytes()).toBe(10_000_000 - run.verifiedBytes);
    place.shelfDrive.mount();
    place.setPace({ paused: false, ceilingBps: null });
    expect(await place.run()).toMatchObject({ stage: 'done', failures: 0 });
    expect(await place.exposedBytes()).toBe(0);
  });

  test('what does not fit is not begun, and told; what is smaller still goes', async () => {
    await place.put('Saltmarsh/A001.mov', Buffer.alloc(80_000_000));
    await place.put('Saltmarsh/A002.mov', 'small');
    const run = await place.run();
    expect(run).toMatchObject({ stage: 'done', files: 1, failures: 1 });
    expect(run.troubles[0]).toMatchObject({
      ...{ reason: 'shelf-full', path: 'Saltmarsh/A001.mov' },
      message: 'shelf-a has no room for Saltmarsh/A001.mov (80.0 MB)',
    });
    expect(existsSync(join(place.shelf.path, 'stripe/Saltmarsh/A001.mov'))).toBe(false);
  });

  test('the same folder, a folder of the working volume, or another shelf in its place is refused in words', async () => {
    await place.put('Saltmarsh/A001.mov', 'one');
    const inside = join(place.volume.path, 'backup');
    mkdirSync(inside);
    const run = await place.run({ path: inside, adopt: true });
    expect(run.why).toEqual({
      reason: 'same-device',
      message: `${inside} is on the working volume itself: a copy there is lost with it. Use another drive.`,
    });
    expect(readdirSync(inside)).toEqual([]);
    await place.run();
    const marker = join(place.shelf.path, '.headroomd-shelf.json');
    expect(JSON.parse(readFileSync(marker, 'utf8'))).toEqual({ headroomd: 'shelf', id: 'id-1', name: 'shelf-a' });
    writeFileSync(marker, JSON.stringify({ headroomd: 'shelf', id: 'other', name: 'shelf-b' }));
    expect((await place.run()).why?.reason).toBe('shelf-another');
    writeFileSync(marker, 'nonsense');
    expect((await place.run({ adopt: true })).why?.reason).toBe('shelf-damaged');
    expect(lstatSync(marker).size).toBe(8);
  });

  test('what was recorded stands in a media hash list beside it, valid by its schema, one generation for each backup', async () => {
    await place.put('Saltmarsh/Footage/A001.mov', 'one');
    await place.put('Saltmarsh/edit.project', 'cut', 'project-file');
    await place.put('loose.mov', 'in no project');
    // A card's own list came with it: what is below it is listed there.
    await place.put('Saltmarsh/Card/A002.mov', 'two');
    await place.put('Saltmarsh/Card/ascmhl/0001_Card.mhl', '<hashlist/>', 'sidecar');
    await place.run();
    await place.put('Saltmarsh/Footage/A003.mov', 'three');
    await place.run();
    expect(await place.run()).toMatchObject({ stage: 'done', failures: 0 });
    const folder = join(place.shelf.path, 'stripe/Saltmarsh/ascmhl');
    const lists = readdirSync(folder)
      .filter((name) => name.endsWith('.mhl'))
      .toSorted();
    expect(lists.map((name) => name.slice(0, 15))).toEqual(['0001_Saltmarsh_', '0002_Saltmarsh_']);
    const schema = fileURLToPath(new URL('../../fixtures/mhl/ASCMHL.xsd', import.meta.url));
    for (const list of lists) {
      execFileSync('xmllint', ['--noout', '--nonet', '--schema', schema, join(folder, list)], { stdio: 'pipe' });
    }
    const paths = lists.map((list) =>
      [...readFileSync(join(folder, list), 'utf8').matchAll(/<path [^>]*>([^<]+)</g)].map(([, path]) => path),
    );
    expect(paths).toEqual([['Footage/A001.mov'], ['Footage/A003.mov']]);
    // XXH64 of "one", by xxhsum 0.8.1.
    expect(readFileSync(join(folder, lists[0] ?? ''), 'utf8')).toContain(
      execFileSync('xxhsum', ['-H1'], { input: 'one', encoding: 'utf8' }).slice(0, 16),
    );
    expect(readdirSync(join(place.shelf.path, 'stripe/Saltmarsh/Card/ascmhl'))).toEqual(['0001_Card.mhl']);
  });

  test('is stopped in the middle, and keeps what was told', async () => {
    for (let index = 0; index < 6; index++) await place.put(`Saltmarsh/A${index}.mov`, Buffer.alloc(4_000_000, index));
    place.setPace({ paused: false, ceilingBps: 8_000_000 });
    const stop = new AbortController();
    const run = await place.run({
      signal: stop.signal,
      changed: ({ movedBytes }: BackupRun) => {
        if (movedBytes > 4_000_000) stop.abort();
      },
    });
    expect(run.stage).toBe('stopped');
    expect(await place.exposedBytes()).toBe(24_000_000 - run.verifiedBytes);
    place.setPace({ paused: false, ceilingBps: null });
    await place.run();
    expect(await place.exposedBytes()).toBe(0);
    const names = readdirSync(join(place.shelf.path, 'stripe/Saltmarsh')).toSorted();
    expect(names).toEqual(['A0.mov', 'A1.mov', 'A2.mov', 'A3.mov', 'A4.mov', 'A5.mov', 'ascmhl']);
  });
});
