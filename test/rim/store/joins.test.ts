import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { NO_TIES, type Ties } from '../../../src/core/intake/container/structure.ts';
import type { Clip, FileRecord } from '../../../src/core/model.ts';
import type { Store } from '../../../src/rim/store/store.ts';
import { clipOf, someFile } from '../../contracts/catalogue.material.ts';
import { AT, stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();
const PROJECT = 'Tidewater Sessions';

/** One track of a sound recorder's take, in a file of its own. */
function track(name: string, take: string, ties: Partial<Ties> = {}): { file: FileRecord; clip: Clip } {
  const file = someFile(`${PROJECT}/Sound/${name}`, { kind: 'sound' });
  const clip = clipOf(
    [file],
    { container: 'BWF', codec: 'PCM', durationSeconds: 12.5, audioTracks: 1, audioChannels: 1 },
    {
      ties: { ...NO_TIES, family: `family-${take}`, scene: '12', take, timeReference: 48_000, ...ties },
      sampleRate: 48_000,
    },
  );
  return { file, clip: { ...clip, essenceBytes: file.size, readyAt: AT } };
}

const TAKE = ['A.wav', 'B.wav', 'C.wav'].map((name) => track(`SM12-T003_${name}`, '3'));

async function finish(store: Store, tracks: readonly { file: FileRecord; clip: Clip }[]): Promise<void> {
  for (const { file, clip } of tracks) await store.catalogue.finishUnit('stripe', file.unit, [file], [clip]);
}

async function joinAll(store: Store): Promise<(string | null)[]> {
  const projects: (string | null)[] = [];
  for (;;) {
    const { more, changed } = await store.catalogue.joinTakes();
    projects.push(...changed.map(({ project }) => project));
    if (!more) return projects;
  }
}

const all = (store: Store) => store.catalogue.clips({ volume: 'stripe' });
const units = async (store: Store) => (await all(store)).map(({ unit }) => unit).sort();

describe('clips that are one take', () => {
  test('are one clip for all who read, with the sums of one', async () => {
    const store = await open(folder());
    await finish(store, [...TAKE, track('SM12-T004_A.wav', '4')]);
    expect((await all(store)).length).toBe(4);
    expect(await joinAll(store)).toEqual([PROJECT]);
    const clips = await all(store);
    expect(clips.length).toBe(2);
    expect(clips.find(({ parts }) => parts === 'tracks')).toMatchObject({
      ...{ name: 'SM12-T003_A.wav', groupedBy: 'one-sound-family', fileCount: 3, essenceCount: 3, bytes: 3000 },
      facts: { audioTracks: 3, audioChannels: 3, durationSeconds: 12.5 },
      paths: TAKE.map(({ file }) => file.path),
    });
    expect(await store.catalogue.counts('stripe')).toEqual({ files: 4, clips: 2 });
    const [project] = await store.catalogue.projects(1);
    expect(project).toMatchObject({ clips: 2, durationSeconds: 25, bytes: 4000, exposed: { clips: 2, bytes: 4000 } });
    // Looked through again, nothing changes.
    expect(await joinAll(store)).toEqual([]);
  });

  test('come apart when one goes, and are found again when it comes back', async () => {
    const store = await open(folder());
    await finish(store, TAKE);
    await joinAll(store);
    const [, second] = TAKE;
    if (second === undefined) throw new Error('three tracks');
    await store.catalogue.forget('stripe', [second.file.path]);
    expect((await all(store)).map(({ parts }) => parts)).toEqual([null, null]);
    await joinAll(store);
    expect((await all(store)).map(({ essenceCount }) => essenceCount)).toEqual([2]);
    await finish(store, [second]);
    await joinAll(store);
    expect((await all(store)).map(({ essenceCount }) => essenceCount)).toEqual([3]);
  });

  test('survive a move, after which nothing has to be read', async () => {
    const store = await open(folder());
    await finish(store, TAKE);
    await joinAll(store);
    const moves = TAKE.map(({ file }) => {
      const path = file.path.replace('/Sound/', '/Recorder/');
      return { from: file.path, file: { ...file, path, unit: path } };
    });
    expect(await store.catalogue.moveFiles('stripe', moves)).toEqual({ left: [], again: [] });
    await joinAll(store);
    expect(await all(store)).toMatchObject([{ essenceCount: 3, unit: `${PROJECT}/Recorder/SM12-T003_A.wav` }]);
  });

  test('are found after a restart as well', async () => {
    const stateDir = folder();
    const first = await open(stateDir);
    await finish(first, TAKE);
    await first.close();
    const second = await open(stateDir);
    await joinAll(second);
    expect((await all(second)).length).toBe(1);
  });

  test('of two projects are none', async () => {
    const store = await open(folder());
    const [a, b] = TAKE.map(({ file, clip }, at) => {
      const project = at === 0 ? PROJECT : 'Saltmarsh';
      return { file: { ...file, project }, clip: { ...clip, project } };
    });
    if (a !== undefined && b !== undefined) await finish(store, [a, b]);
    await joinAll(store);
    expect((await all(store)).length).toBe(2);
  });

  test('whatever came, went, moved and was joined in between, in the end it is as if all had come at once', async () => {
    const tracks = ['1', '2'].flatMap((take) => ['A', 'B', 'C'].map((name) => track(`S-${take}${name}.wav`, take)));
    const step = fc.record({ which: fc.nat(tracks.length - 1), what: fc.constantFrom('put', 'put', 'forget', 'join') });
    await fc.assert(
      fc.asyncProperty(fc.array(step, { maxLength: 25 }), async (steps) => {
        const [lived, fresh] = [await open(folder()), await open(folder())];
        const there = new Set<number>();
        for (const { which, what } of steps) {
          const one = tracks[which];
          if (what === 'join' || one === undefined) await lived.catalogue.joinTakes();
          else if (what === 'put') {
            await finish(lived, [one]);
            there.add(which);
          } else {
            await lived.catalogue.forget('stripe', [one.file.path]);
            there.delete(which);
          }
        }
        await joinAll(lived);
        await finish(
          fresh,
          tracks.filter((_, at) => there.has(at)),
        );
        await joinAll(fresh);
        expect(await units(lived)).toEqual(await units(fresh));
        const sums = async (store: Store) => (await store.catalogue.projects(1)).map(({ exposed: _, ...sum }) => sum);
        expect(await sums(lived)).toEqual(await sums(fresh));
        await lived.close();
        await fresh.close();
      }),
      { numRuns: 15 },
    );
  });
});
