import { describe, expect, test } from 'vitest';
import { unfinishedOf } from '../../contracts/catalogue.material.ts';
import { bytesOf, clipsOf, GB, newWorld, pathsOf, SECOND, settled, start, type World } from './moves-stage.ts';

describe('what is moved', () => {
  test('a clip that gets another name: nothing is read again, it is told once, and is the clip it was', async () => {
    const world = newWorld();
    const { of, told } = await start(world);
    await settled(world, 'Saltmarsh/Day 1/A001.mov');
    const [before] = await clipsOf(world);
    const saidBefore = told.length;
    world.root.rename('Saltmarsh/Day 1/A001.mov', 'Saltmarsh/Day 1/first take.mov');
    for (let step = 0; step < 12; step++) {
      await world.clock.advance(0.5 * SECOND);
      expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
      expect(await clipsOf(world)).toHaveLength(1);
    }
    expect(await clipsOf(world)).toEqual([
      {
        ...before,
        name: 'first take.mov',
        paths: ['Saltmarsh/Day 1/first take.mov'],
        unit: 'Saltmarsh/Day 1/first take.*',
      },
    ]);
    expect(world.root.probed).toHaveLength(1);
    expect(told.slice(saidBefore)).toEqual(of('moved').map((line) => `moved ${line}`));
    expect(of('moved')).toEqual([
      'Moved on stripe: Saltmarsh/Day 1/A001.mov is now Saltmarsh/Day 1/first take.mov (1 file, 1.00 GB).',
    ]);
  });

  test.each([
    ['new place first', (world: World) => world.root.rename('Saltmarsh/Day 1', 'Saltmarsh/Day 01')],
    [
      'old place first',
      (world: World) => {
        world.root.renameUnseen('Saltmarsh/Day 1', 'Saltmarsh/Day 01');
        world.root.tell({ type: 'gone', paths: ['Saltmarsh/Day 1'] });
        world.clock.after(1.5 * SECOND, () => void world.root.sweep());
      },
    ],
  ])('a folder, %s: one line, with all that lies in it', async (_, move) => {
    const world = newWorld();
    const { of, told } = await start(world);
    const clips = Array.from({ length: 40 }, (_, at) => `Saltmarsh/Day 1/A001/A001C0${at + 10}.mov`);
    await settled(world, ...clips, 'Saltmarsh/Day 1/A001/A001C010.xml', 'Saltmarsh/Day 1/notes.txt');
    const before = await clipsOf(world);
    const saidBefore = told.length;
    move(world);
    await world.clock.advance(10 * SECOND);
    const moved = (path: string) => path.replace('Day 1', 'Day 01');
    expect(await clipsOf(world)).toEqual(
      before.map((clip) => ({ ...clip, paths: clip.paths.map(moved), unit: moved(clip.unit) })),
    );
    expect(told.slice(saidBefore)).toEqual([
      'moved Moved on stripe: Saltmarsh/Day 1 is now Saltmarsh/Day 01 (42 files, 42.0 GB).',
    ]);
    expect(of('gone')).toEqual([]);
    expect(world.root.probed).toHaveLength(40);
    expect(await unfinishedOf(world.catalogue, 'stripe')).toEqual([]);
    expect(await world.catalogue.counts()).toEqual({ files: 42, clips: 40 });
  });

  test('into another project, into the trash and out of it: bytes and exposure go along', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/A001/1.mov', 'Saltmarsh/A001/2.mov', 'Lock Keepers/3.mov');
    world.root.put('Saltmarsh/notes.txt', { size: 0 });
    world.root.rename('Saltmarsh/A001', 'Lock Keepers/A001');
    await world.clock.advance(5 * SECOND);
    expect(await bytesOf(world)).toEqual({ 'Lock Keepers': 3 * GB, Saltmarsh: 0 });
    expect((await clipsOf(world)).map(({ project }) => project)).toEqual(Array(3).fill('Lock Keepers'));
    expect(world.root.probed).toHaveLength(3);
    world.root.rename('Lock Keepers/A001/1.mov', '.Trash-1000/files/1.mov');
    await world.clock.advance(5 * SECOND);
    expect(await bytesOf(world)).toEqual({ 'Lock Keepers': 2 * GB, Saltmarsh: 0, trash: GB });
    expect((await world.catalogue.projects(1))[0]?.exposed).toMatchObject({ bytes: 2 * GB, clips: 2 });
    expect(await clipsOf(world)).toHaveLength(2);
    world.root.rename('.Trash-1000/files/1.mov', 'Saltmarsh/1.mov');
    await world.clock.advance(10 * SECOND);
    expect(await bytesOf(world)).toEqual({ 'Lock Keepers': 2 * GB, Saltmarsh: GB });
    expect(await clipsOf(world)).toHaveLength(3);
    expect((await world.catalogue.projects(1))[0]?.exposed?.since).toBe(
      (await world.catalogue.projects(1))[1]?.exposed?.since,
    );
    expect(of('moved')).toEqual([
      'Moved on stripe: Saltmarsh/A001 is now Lock Keepers/A001 (2 files, 2.00 GB).',
      'Moved on stripe: Lock Keepers/A001/1.mov is now .Trash-1000/files/1.mov (1 file, 1.00 GB).',
      'Moved on stripe: .Trash-1000/files/1.mov is now Saltmarsh/1.mov (1 file, 1.00 GB).',
    ]);
    expect(of('gone')).toEqual([]);
  });

  test('a sequence, with the frames that are missing in it; half of it, and back', async () => {
    const world = newWorld();
    const { of } = await start(world);
    const frame = (at: number) => `S_${String(at).padStart(4, '0')}.dpx`;
    const numbers = Array.from({ length: 60 }, (_, at) => at + 1).filter((at) => at !== 17);
    for (const at of numbers) world.root.put(`Saltmarsh/scan/${frame(at)}`, { size: 1000 });
    await world.clock.advance(20 * SECOND);
    const [before] = await clipsOf(world);
    expect(before).toMatchObject({ fileCount: 59, missingFrames: [{ first: 17, last: 17 }] });
    world.root.rename('Saltmarsh/scan', 'Saltmarsh/scan 1');
    await world.clock.advance(5 * SECOND);
    expect((await clipsOf(world))[0]).toMatchObject({ ...before, paths: expect.anything(), unit: expect.anything() });
    for (const at of numbers.filter((at) => at > 30)) {
      world.root.rename(`Saltmarsh/scan 1/${frame(at)}`, `Saltmarsh/scan 2/${frame(at)}`);
    }
    await world.clock.advance(20 * SECOND);
    // The second half begins with a frame that was never read: it is, once. The first half is not.
    expect(world.root.probed).toEqual([`Saltmarsh/scan/${frame(1)}`, `Saltmarsh/scan 2/${frame(31)}`]);
    expect((await clipsOf(world)).map(({ name, bytes }) => [name, bytes])).toEqual([
      ['S_[0001-0030].dpx', 29_000],
      ['S_[0031-0060].dpx', 30_000],
    ]);
    expect(of('moved').at(-1)).toBe('Moved on stripe: from Saltmarsh/scan 1 to Saltmarsh/scan 2 (30 files, 30.0 kB).');
    expect(of('gone')).toEqual([]);
  });

  test('a sidecar leaves its clip, and comes back to it', async () => {
    const world = newWorld();
    await start(world);
    await settled(world, 'Saltmarsh/A/A001.mov', 'Saltmarsh/A/A001.xml');
    expect(await pathsOf(world)).toEqual(['Saltmarsh/A/A001.mov + Saltmarsh/A/A001.xml']);
    world.root.rename('Saltmarsh/A/A001.xml', 'Saltmarsh/notes/A001.xml');
    await world.clock.advance(5 * SECOND);
    expect(await clipsOf(world)).toMatchObject([{ paths: ['Saltmarsh/A/A001.mov'], bytes: GB, fileCount: 1 }]);
    world.root.rename('Saltmarsh/notes/A001.xml', 'Saltmarsh/A/A001.xml');
    await world.clock.advance(5 * SECOND);
    expect(await clipsOf(world)).toMatchObject([{ bytes: 2 * GB, fileCount: 2 }]);
    expect(world.root.probed).toHaveLength(1);
    expect(await unfinishedOf(world.catalogue, 'stripe')).toEqual([]);
  });

  test('files change places', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/1.mov', 'Saltmarsh/2.mov');
    world.root.put('Saltmarsh/2.mov', { size: 7 });
    await world.clock.advance(10 * SECOND);
    for (const [from, to] of [
      ['1', 'x'],
      ['2', '1'],
      ['x', '2'],
    ]) {
      world.root.rename(`Saltmarsh/${from}.mov`, `Saltmarsh/${to}.mov`);
    }
    await world.clock.advance(10 * SECOND);
    expect((await clipsOf(world)).map(({ name, bytes }) => [name, bytes])).toEqual([
      ['1.mov', 7],
      ['2.mov', GB],
    ]);
    expect(world.root.probed).toHaveLength(3);
    expect(of('gone')).toEqual([]);
  });

  test('renamed and written to at once: it is the same file, and is read anew', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/1.mov');
    world.root.rename('Saltmarsh/1.mov', 'Saltmarsh/2.mov');
    world.root.put('Saltmarsh/2.mov', { size: 2 * GB });
    await world.clock.advance(10 * SECOND);
    expect((await clipsOf(world)).map(({ name, bytes }) => [name, bytes])).toEqual([['2.mov', 2 * GB]]);
    expect(world.root.probed).toEqual(['Saltmarsh/1.mov', 'Saltmarsh/2.mov']);
    expect(of('gone')).toEqual([]);
  });

  test('over a file that is known: that one is lost, the moved one stays what it is', async () => {
    const world = newWorld();
    await start(world);
    await settled(world, 'Saltmarsh/1.mov');
    world.root.put('Saltmarsh/2.mov', { size: 7 });
    await world.clock.advance(10 * SECOND);
    world.root.rename('Saltmarsh/1.mov', 'Saltmarsh/2.mov');
    await world.clock.advance(10 * SECOND);
    expect((await clipsOf(world)).map(({ name, bytes }) => [name, bytes])).toEqual([['2.mov', GB]]);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
    expect(world.root.probed).toHaveLength(2);
  });
});
