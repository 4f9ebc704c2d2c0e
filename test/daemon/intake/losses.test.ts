import { describe, expect, test } from 'vitest';
import { bytesOf, clipsOf, GB, newWorld, pathsOf, SECOND, settled, start } from './moves-stage.ts';

describe('what is gone', () => {
  test('is told with its bytes when it was looked for, once for all', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/A/1.mov', 'Saltmarsh/A/2.mov', 'Saltmarsh/3.mov');
    world.root.remove('Saltmarsh/A/1.mov');
    await world.clock.advance(SECOND);
    world.root.remove('Saltmarsh/A/2.mov');
    expect(await bytesOf(world)).toEqual({ Saltmarsh: 3 * GB });
    await world.clock.advance(3 * SECOND);
    expect(of('gone')).toEqual(['No longer on stripe: Saltmarsh/A/1.mov and others (2 files, 2.00 GB).']);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
    expect(await pathsOf(world)).toEqual(['Saltmarsh/3.mov']);
  });

  test('is not forgotten when it comes back at once, or was never away', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/A/1.mov', 'Saltmarsh/A/2.mov');
    world.root.tell({ type: 'gone', paths: ['Saltmarsh/A'] });
    world.root.renameUnseen('Saltmarsh/A', 'Saltmarsh/B');
    await world.clock.advance(SECOND);
    world.root.renameUnseen('Saltmarsh/B', 'Saltmarsh/A');
    await world.clock.advance(5 * SECOND);
    expect([of('gone'), of('moved')]).toEqual([[], []]);
    expect(await clipsOf(world)).toHaveLength(2);
    // Of one that was arriving the wrong word is made good.
    world.root.put('Saltmarsh/A/3.mov', { size: GB, writers: 'open' });
    await world.clock.advance(SECOND);
    world.root.putUnseen('Saltmarsh/A/3.mov', { size: GB });
    world.root.tell({ type: 'gone', paths: ['Saltmarsh/A/3.mov'] });
    await world.clock.advance(10 * SECOND);
    expect(await clipsOf(world)).toHaveLength(3);
  });

  test('is not forgotten while the volume is away', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/1.mov', 'Saltmarsh/2.mov');
    world.root.remove('Saltmarsh/1.mov');
    world.root.setState('absent', 'the folder does not exist');
    await world.clock.advance(60 * SECOND);
    expect(of('gone')).toEqual([]);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: 2 * GB });
    world.root.setState('live');
    await world.clock.advance(10 * SECOND);
    expect(of('gone')).toEqual(['No longer on stripe: Saltmarsh/1.mov (1 file, 1.00 GB).']);
  });

  test('a folder in the place of a file, a file in the place of a folder', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/a.mov', 'Saltmarsh/b.mov/c.mov');
    world.root.renameUnseen('Saltmarsh/a.mov', 'Saltmarsh/x.mov');
    world.root.renameUnseen('Saltmarsh/b.mov', 'Saltmarsh/a.mov');
    world.root.renameUnseen('Saltmarsh/x.mov', 'Saltmarsh/b.mov');
    await world.root.sweep();
    await world.clock.advance(10 * SECOND);
    expect(await pathsOf(world)).toEqual(['Saltmarsh/a.mov/c.mov', 'Saltmarsh/b.mov']);
    expect(of('gone')).toEqual([]);
    world.root.remove('Saltmarsh/b.mov');
    world.root.putUnseen('Saltmarsh/b.mov/d.mov', { size: 5 });
    await world.root.sweep();
    await world.clock.advance(10 * SECOND);
    expect(await pathsOf(world)).toEqual(['Saltmarsh/a.mov/c.mov', 'Saltmarsh/b.mov/d.mov']);
    expect(of('gone')).toEqual(['No longer on stripe: Saltmarsh/b.mov (1 file, 1.00 GB).']);
  });

  test('a name in another spelling, on a file system that takes both for one and whose inodes say nothing', async () => {
    const world = newWorld();
    const { of } = await start(world);
    const stat = (path: string) => ({
      path,
      size: GB,
      allocated: GB,
      mtimeNs: 1n,
      ctimeNs: 1n,
      dev: 1n,
      ino: 0n,
      nlink: 1,
    });
    world.root.putUnseen('Saltmarsh/a.mov', { size: GB });
    const { inspect, missing } = world.root;
    const folded = (path: string) => path.replace('A.MOV', 'a.mov');
    world.root.missing = (paths) => missing(paths.map(folded));
    world.root.inspect = async (paths) =>
      (await inspect(paths.map(folded))).map((seen, at) => {
        const path = paths[at] ?? '';
        return { ...seen, path, stat: seen.stat === null ? null : { ...seen.stat, path } };
      });
    const list = (path: string) =>
      world.root.tell({ type: 'listing', dir: 'Saltmarsh', files: [stat(path)], dirs: [], unreadable: [] });
    list('Saltmarsh/a.mov');
    await world.clock.advance(5 * SECOND);
    list('Saltmarsh/A.MOV');
    await world.clock.advance(5 * SECOND);
    expect(await world.catalogue.counts()).toMatchObject({ files: 1 });
    expect(of('gone')).toHaveLength(1);
  });
});
