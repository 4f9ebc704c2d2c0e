import { describe, expect, test } from 'vitest';
import type { CataloguePort } from '../../../src/core/store-ports.ts';
import { bytesOf, GB, newWorld, pathsOf, SECOND, settled, start, type World } from './moves-stage.ts';

/** Has the catalogue refuse a method while `refuses()`. */
function refusing(world: World, method: 'forget' | 'putFiles' | 'filesBelow', refuses: () => boolean): void {
  const { catalogue } = world;
  const works = catalogue[method] as (...args: unknown[]) => Promise<unknown>;
  world.catalogue = {
    ...catalogue,
    [method]: async (...args: unknown[]) => {
      if (refuses()) throw new Error('The state disk is full.');
      return works(...args);
    },
  } as CataloguePort;
}

describe('a store that refuses for a while', () => {
  test('what is gone is forgotten when it works again, and that it works is told', async () => {
    const world = newWorld();
    let full = false;
    refusing(world, 'forget', () => full);
    const { of, told } = await start(world);
    await settled(world, 'Saltmarsh/1.mov', 'Saltmarsh/2.mov');
    world.root.remove('Saltmarsh/1.mov');
    await world.clock.advance(SECOND);
    full = true;
    await world.clock.advance(12 * SECOND);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: 2 * GB });
    full = false;
    await world.clock.advance(6 * SECOND);
    expect(of('gone')).toEqual(['No longer on stripe: Saltmarsh/1.mov (1 file, 1.00 GB).']);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
    expect(told.filter((line) => line.includes('can be written again'))).toHaveLength(1);
  });

  test('files that took the places of others are taken when it works again', async () => {
    const world = newWorld();
    let left = 0;
    refusing(world, 'putFiles', () => left-- > 0);
    const { flow } = await start(world);
    await settled(world, 'Saltmarsh/1.mov', 'Saltmarsh/2.mov');
    world.root.renameUnseen('Saltmarsh/1.mov', 'Saltmarsh/x/1.mov');
    world.root.putUnseen('Saltmarsh/1.mov', { size: 5 });
    world.root.remove('Saltmarsh/x/1.mov');
    const { stat } = (await world.root.inspect(['Saltmarsh/1.mov']))[0] ?? {};
    const other = (await world.root.inspect(['Saltmarsh/2.mov']))[0]?.stat;
    if (!stat || !other) throw new Error('both are there');
    world.root.tell({ type: 'listing', dir: 'Saltmarsh', files: [stat, other], dirs: [], unreadable: [] });
    await world.clock.advance(SECOND);
    left = 1;
    await world.clock.advance(30 * SECOND);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB + 5 });
    expect(flow.arrivals([]).pending).toBe(0);
  });

  test('of more than 500 events that wait the others are dropped, and all folders read when it works again', async () => {
    const world = newWorld();
    let full = false;
    let asked = 0;
    refusing(world, 'putFiles', () => full);
    const compare = world.catalogue.compareFiles;
    world.catalogue.compareFiles = (...args) => {
      asked += 1;
      return compare(...args);
    };
    const rootStart = world.root.start;
    let receive: Parameters<typeof rootStart>[0] = () => {};
    world.root.start = (onEvent) => {
      receive = onEvent;
      rootStart(onEvent);
    };
    let sweeps = 0;
    const sweep = world.root.sweep;
    world.root.sweep = () => {
      sweeps += 1;
      return sweep();
    };
    await start(world);
    await settled(world, 'Saltmarsh/first.mov');
    full = true;
    asked = 0;
    for (let n = 0; n < 600; n += 1) {
      const path = `Saltmarsh/${n}.mov`;
      world.root.putUnseen(path, { size: 10 });
      const stat = (await world.root.inspect([path]))[0]?.stat;
      if (stat) void receive({ type: 'files', files: [stat] });
    }
    await world.clock.advance(7 * SECOND);
    expect(sweeps).toBe(0);
    full = false;
    await world.clock.advance(30 * SECOND);
    expect(asked).toBeLessThanOrEqual(510);
    expect(sweeps).toBeGreaterThan(0);
    expect(await pathsOf(world)).toHaveLength(601);
  });
});

describe('a take whose file changes', () => {
  test('is read with its companions, however often it was deleted and copied again', async () => {
    const world = newWorld();
    const { catalogue } = world;
    const asked: string[] = [];
    const filesOfUnits = catalogue.filesOfUnits;
    world.catalogue = {
      ...catalogue,
      filesOfUnits: (volume, units) => {
        asked.push(...units);
        return filesOfUnits(volume, units);
      },
    };
    await start(world);
    await settled(world, 'Saltmarsh/1.mov');
    for (let times = 0; times < 2; times += 1) {
      asked.length = 0;
      world.root.put('Saltmarsh/1.mov', { size: GB, writers: 'open' });
      await world.clock.advance(SECOND);
      expect(asked).toHaveLength(1);
      world.root.remove('Saltmarsh/1.mov');
      await world.clock.advance(3600 * SECOND);
    }
  });
});

test('a start takes up what is not ready part by part, and asks for what is back only below it', async () => {
  const world = newWorld();
  const first = await start(world);
  const paths = Array.from({ length: 8 }, (_, n) => `Saltmarsh/${n}.mov`);
  for (const path of paths) world.root.put(path, { size: GB, writers: 'open' });
  await world.clock.advance(SECOND);
  await first.flow.stop();
  const parts: number[] = [];
  const below: string[][] = [];
  const { unfinished, filesBelow } = world.catalogue;
  world.catalogue.unfinished = async (...args) => {
    const part = await unfinished(...args);
    parts.push(part.files.length);
    return part;
  };
  world.catalogue.filesBelow = (volume, wanted, ...rest) => {
    below.push(wanted);
    return filesBelow(volume, wanted, ...rest);
  };
  const { flow } = await start(world);
  expect(flow.arrivals([]).pending).toBe(8);
  expect(Math.max(...parts)).toBeLessThan(8);
  parts.length = 0;
  world.root.tell({ type: 'gone', paths: ['Saltmarsh/3.mov'] });
  await world.clock.advance(5 * SECOND);
  expect(parts).toEqual([]);
  expect(below).toEqual([['Saltmarsh/3.mov']]);
  expect(flow.arrivals([]).pending).toBe(8);
});
