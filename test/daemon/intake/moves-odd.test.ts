import { describe, expect, test } from 'vitest';
import { bytesOf, clipsOf, GB, newWorld, pathsOf, SECOND, settled, start } from './moves-stage.ts';

describe('what is moved under difficulties', () => {
  test.each([
    ['told after it', false],
    ['told before it', true],
  ])('another file in the old place, %s: the moved one is known, the other is new', async (_, newFirst) => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/A.mov');
    if (newFirst) {
      // Found by reading the folders, the old one first.
      world.root.renameUnseen('Saltmarsh/A.mov', 'Saltmarsh/sub/B.mov');
      world.root.putUnseen('Saltmarsh/A.mov', { size: 5 });
      await world.root.sweep();
    } else {
      world.root.rename('Saltmarsh/A.mov', 'Saltmarsh/sub/B.mov');
      world.root.put('Saltmarsh/A.mov', { size: 5 });
    }
    await world.clock.advance(10 * SECOND);
    expect((await clipsOf(world)).map(({ paths, bytes }) => [paths[0], bytes])).toEqual([
      ['Saltmarsh/A.mov', 5],
      ['Saltmarsh/sub/B.mov', GB],
    ]);
    expect(world.root.probed).toEqual(['Saltmarsh/A.mov', 'Saltmarsh/A.mov']);
    expect(of('moved')).toHaveLength(1);
    expect(of('gone')).toEqual([]);
  });

  test.each(['Saltmarsh/0', 'Saltmarsh/z'])(
    'while the daemon is down, to a place that is read before or after: %s',
    async (to) => {
      const world = newWorld();
      const first = await start(world);
      await settled(world, 'Saltmarsh/m/1.mov', 'Saltmarsh/m/2.mov', 'Saltmarsh/m/3.mov');
      await first.flow.stop();
      world.root.renameUnseen('Saltmarsh/m/1.mov', `${to}/1.mov`);
      world.root.renameUnseen('Saltmarsh/m/2.mov', `${to}/2.mov`);
      world.root.putUnseen('Saltmarsh/m/2.mov', { size: 3 });
      world.root.remove('Saltmarsh/m/3.mov');
      const { of } = await start(world);
      await world.clock.advance(10 * SECOND);
      expect((await clipsOf(world)).map(({ paths, bytes }) => [paths[0], bytes])).toEqual(
        [
          ['Saltmarsh/m/2.mov', 3],
          [`${to}/1.mov`, GB],
          [`${to}/2.mov`, GB],
        ].toSorted(([a], [b]) => ((a ?? '') < (b ?? '') ? -1 : 1)),
      );
      expect(world.root.probed).toHaveLength(4);
      expect(of('moved')).toEqual([`Moved on stripe: from Saltmarsh/m to ${to} (2 files, 2.00 GB).`]);
      expect(of('gone')).toEqual(['No longer on stripe: Saltmarsh/m/3.mov (1 file, 1.00 GB).']);
    },
  );

  test('while the volume is away, however long the folders take to be read', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/m/1.mov', 'Saltmarsh/stays.mov');
    world.root.setState('absent', 'the folder does not exist');
    world.root.renameUnseen('Saltmarsh/m/1.mov', 'Saltmarsh/z/1.mov');
    await world.clock.advance(60 * SECOND);
    world.root.tell({ type: 'state', state: 'live', detail: null });
    world.root.tell({ type: 'listing', dir: 'Saltmarsh/m', files: [], dirs: [], unreadable: [] });
    await world.clock.advance(60 * SECOND);
    world.root.setState('live');
    await world.clock.advance(10 * SECOND);
    expect(of('gone')).toEqual([]);
    expect(of('moved')).toEqual(['Moved on stripe: Saltmarsh/m/1.mov is now Saltmarsh/z/1.mov (1 file, 1.00 GB).']);
    expect(world.root.probed).toHaveLength(2);
  });

  test('a file that is still arriving settles under its new name, and was never lost', async () => {
    const world = newWorld();
    const { of } = await start(world);
    world.root.put('Saltmarsh/A.mov', { size: GB, writers: 'open' });
    await world.clock.advance(3 * SECOND);
    world.root.rename('Saltmarsh/A.mov', 'Saltmarsh/B.mov');
    await world.clock.advance(SECOND);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
    world.root.put('Saltmarsh/B.mov', { size: GB });
    await world.clock.advance(10 * SECOND);
    expect(await pathsOf(world)).toEqual(['Saltmarsh/B.mov']);
    expect(await world.catalogue.counts()).toEqual({ files: 1, clips: 1 });
    expect(of('gone')).toEqual([]);
  });

  test('a copy under a temporary name is not slower for all that', async () => {
    const world = newWorld();
    const { of } = await start(world);
    world.root.put('Saltmarsh/.A.mov.part', { size: GB, writers: 'open' });
    await world.clock.advance(3 * SECOND);
    world.root.rename('Saltmarsh/.A.mov.part', 'Saltmarsh/A.mov');
    world.root.put('Saltmarsh/A.mov', { size: GB });
    await world.clock.advance(0.6 * SECOND);
    expect(await pathsOf(world)).toEqual(['Saltmarsh/A.mov']);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
    await world.clock.advance(5 * SECOND);
    expect([of('gone'), of('moved')]).toEqual([[], []]);
  });

  test('a second name of the same content is no move', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/A.mov');
    const [known] = await world.catalogue.filesOfUnits('stripe', ['Saltmarsh/a.*']);
    if (known === undefined) throw new Error('A.mov is known');
    world.root.tell({
      type: 'files',
      files: [
        { ...known, nlink: 2 },
        { ...known, path: 'Saltmarsh/B.mov', nlink: 2 },
      ],
    });
    await world.clock.advance(SECOND);
    expect(of('moved')).toEqual([]);
    expect(await world.catalogue.counts()).toMatchObject({ files: 2 });
  });

  test('many moves at once are five lines and a sum', async () => {
    const world = newWorld();
    const { of } = await start(world);
    for (let at = 1; at <= 9; at++) world.root.put(`Saltmarsh/${at}/a.mov`, { size: at * GB });
    await world.clock.advance(10 * SECOND);
    for (let at = 1; at <= 9; at++) world.root.rename(`Saltmarsh/${at}`, `Lock Keepers/roll ${at}`);
    await world.clock.advance(10 * SECOND);
    expect(of('moved')).toEqual([
      ...[9, 8, 7, 6, 5].map(
        (at) => `Moved on stripe: Saltmarsh/${at}/a.mov is now Lock Keepers/roll ${at}/a.mov (1 file, ${at}.00 GB).`,
      ),
      'Moved on stripe: and 4 more (4 files, 10.0 GB).',
    ]);
  });

  test('files that get other names in one folder are one line', async () => {
    const world = newWorld();
    const { of } = await start(world);
    await settled(world, 'Saltmarsh/1.mov', 'Saltmarsh/2.mov');
    world.root.rename('Saltmarsh/1.mov', 'Saltmarsh/one.mov');
    world.root.rename('Saltmarsh/2.mov', 'Saltmarsh/two.mov');
    await world.clock.advance(10 * SECOND);
    expect(of('moved')).toEqual(['Moved on stripe: files in Saltmarsh have other names (2 files, 2.00 GB).']);
  });

  test('from a cache to the footage: nobody looked at it there, so it settles', async () => {
    const world = newWorld();
    const { of } = await start(world);
    world.root.put('Media Cache/a.mov', { size: GB });
    await world.clock.advance(10 * SECOND);
    expect(world.root.probed).toEqual([]);
    world.root.rename('Media Cache/a.mov', 'Saltmarsh/a.mov');
    await world.clock.advance(10 * SECOND);
    expect(world.root.probed).toEqual(['Saltmarsh/a.mov']);
    expect(await bytesOf(world)).toEqual({ Saltmarsh: GB });
    expect(of('gone')).toEqual([]);
  });
});
