import { describe, expect, test } from 'vitest';
import type { RootEvent } from '../../../src/core/root-port.ts';
import { bytesOf, GB, newWorld, SECOND, settled, start, type World } from './moves-stage.ts';

/** Tells the content of a folder as it is, of which `without` are not read. */
async function list(world: World, dir: string, ...without: string[]): Promise<void> {
  const told: RootEvent[] = [];
  const { tell } = world.root;
  const paths = (await world.catalogue.filesBelow('stripe', [dir])).files.map(({ path }) => path);
  const files = (await world.root.inspect(paths)).flatMap(({ stat }) => stat ?? []);
  told.push({
    type: 'listing',
    dir,
    files: files.filter(({ path }) => !without.includes(path)),
    dirs: [],
    unreadable: [],
  });
  for (const event of told) tell(event);
  await world.root.settled();
}

describe('two names that differ in case or composition only, on a file system that tells them apart', () => {
  test.each([
    ['case', 'Saltmarsh/Clip.mov', 'Saltmarsh/clip.mov'],
    ['composition', 'Saltmarsh/caf\u00e9.mov', 'Saltmarsh/cafe\u0301.mov'],
  ])('%s: one that is deleted, and written again at once, stays known', async (_, first, second) => {
    for (const seen of [true, false]) {
      const world = newWorld();
      const { of } = await start(world);
      await settled(world, first, second);
      await list(world, 'Saltmarsh', second);
      await world.clock.advance(SECOND / 2);
      // Seen: a word of the new one comes before it is looked for. Else only the look finds it.
      if (seen) world.root.put(second, { size: GB });
      await world.clock.advance(10 * SECOND);
      expect(of('gone')).toEqual([]);
      expect(await bytesOf(world)).toEqual({ Saltmarsh: 2 * GB });
    }
  });

  test('one that is seen again is no other spelling, also where its inode and times do not tell it from the other', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/Clip.mov', 'Saltmarsh/clip.mov');
    const { inspect } = world.root;
    world.root.inspect = async (paths) =>
      (await inspect(paths)).map((seen) => ({
        ...seen,
        stat: seen.stat === null ? null : { ...seen.stat, ino: 0n, mtimeNs: 1n, ctimeNs: 1n },
      }));
    await list(world, 'Saltmarsh', 'Saltmarsh/clip.mov');
    await world.clock.advance(SECOND);
    await list(world, 'Saltmarsh');
    await world.clock.advance(10 * SECOND);
    expect(of('gone')).toEqual([]);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: 2 * GB });
  });

  test('one that stays deleted is forgotten', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/Clip.mov', 'Saltmarsh/clip.mov');
    world.root.remove('Saltmarsh/clip.mov');
    await list(world, 'Saltmarsh');
    await world.clock.advance(10 * SECOND);
    expect(of('gone')).toHaveLength(1);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
  });

  test('folders: one that a listing missed stays known, one that is another spelling is forgotten', async () => {
    for (const isSame of [false, true]) {
      const world = newWorld();
      const { of } = await start(world);
      await settled(world, 'Saltmarsh/Day/1.mov');
      if (!isSame) await settled(world, 'Saltmarsh/day/1.mov');
      const { inspect, missing } = world.root;
      const folded = (path: string) => (isSame ? path.replace('/day', '/Day') : path);
      world.root.missing = (paths) => missing(paths.map(folded));
      world.root.inspect = async (paths) =>
        (await inspect(paths.map(folded))).map((seen, at) => {
          const path = paths[at] ?? '';
          return { ...seen, path, stat: seen.stat === null ? null : { ...seen.stat, path } };
        });
      world.root.tell({ type: 'listing', dir: 'Saltmarsh', files: [], dirs: ['Saltmarsh/day'], unreadable: [] });
      await world.clock.advance(10 * SECOND);
      expect(of('gone')).toHaveLength(isSame ? 1 : 0);
      expect(await world.catalogue.counts()).toMatchObject({ files: isSame ? 0 : 2 });
    }
  });
});
