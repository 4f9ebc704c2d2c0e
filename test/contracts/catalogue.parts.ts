import { describe, expect, test } from 'vitest';
import { fresh, type Subject } from './catalogue.contract.ts';
import { clipOf, filesBelow, sidecarOf, someFile, unfinishedOf } from './catalogue.material.ts';

const A1 = someFile('Tidewater Sessions/A/A001.mov');
const SIDECAR = sidecarOf(A1);

/** What may be as much as a whole volume, and what another look overtakes. */
export function partsContract(name: string, make: () => Promise<Subject>): void {
  describe(`${name}: in parts`, () => {
    const subject = fresh(make);

    test('unfinished files come at most 5,000 at a time, each once, those of units that lost one after the others', async () => {
      const { catalogue } = subject();
      const many = Array.from({ length: 5003 }, (_, n) =>
        someFile(`Saltmarsh/${n % 7}/${n}.mov`, { state: n % 2 === 0 ? 'arriving' : 'refused' }),
      );
      const late = someFile('Tidewater Sessions/A/A001.wav', { unit: A1.unit, kind: 'sound', state: 'arriving' });
      await catalogue.putFiles([A1, SIDECAR, ...many, { ...A1, volume: 'shelf-a', state: 'arriving' }]);
      await catalogue.forget('stripe', [SIDECAR.path]);
      await catalogue.putFiles([late]);
      const { files, next } = await catalogue.unfinished('stripe');
      expect(files.length).toBeLessThanOrEqual(5000);
      expect(next).not.toBeNull();
      const paths = (await unfinishedOf(catalogue, 'stripe')).map(({ path }) => path);
      expect(paths.toSorted()).toEqual([...many, A1, late].map(({ path }) => path).toSorted());
      const broken = await unfinishedOf(catalogue, 'stripe', 'broken');
      expect(broken.map(({ path }) => path)).toEqual([A1.path, late.path]);
    });

    test('what is known at and below some paths, in parts too, and only that', async () => {
      const { catalogue } = subject();
      const frames = Array.from({ length: 5002 }, (_, n) => someFile(`p/a/${String(n).padStart(5, '0')}.dpx`));
      const deep = ['p/a/x/1.mov', 'p/a/x/y/2.mov'].map((path) => someFile(path, { state: 'arriving' }));
      const others = ['p/a', 'p/a-b/1.mov', 'p/a0/1.mov', 'p/b.mov', 'top.mov'].map((path) => someFile(path));
      await catalogue.putFiles([...frames, ...deep, ...others, { ...A1, volume: 'shelf-a' }]);
      const below = async (...paths: string[]) =>
        (await filesBelow(catalogue, 'stripe', paths)).map(({ path }) => path).toSorted();
      const all = (...files: { path: string }[]) => files.map(({ path }) => path).toSorted();
      expect(await below('p/a')).toEqual(all(someFile('p/a'), ...frames, ...deep));
      expect(await below('p/b.mov', 'p/a/x', 'never')).toEqual(all(someFile('p/b.mov'), ...deep));
      expect(await below('')).toEqual(all(...frames, ...deep, ...others));
      expect(await below()).toEqual([]);
      expect((await catalogue.filesBelow('stripe', ['p/a'])).files.length).toBeLessThanOrEqual(5000);
      // Of what is unfinished also the files of units that lost one.
      await catalogue.finishUnit('stripe', A1.unit, [A1, SIDECAR], [clipOf([A1, SIDECAR])]);
      await catalogue.forget('stripe', [SIDECAR.path]);
      const unfinished = async (...paths: string[]) =>
        (await filesBelow(catalogue, 'stripe', paths, 'unfinished')).map(({ path }) => path);
      expect(await unfinished('p')).toEqual(deep.map(({ path }) => path));
      expect(await unfinished('top.mov', A1.path)).toEqual([A1.path]);
    });

    test('a tree that vanished is told by its topmost folder, however many files it had', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles(Array.from({ length: 300 }, (_, n) => someFile(`Saltmarsh/d${n % 9}/${n}.dpx`)));
      expect((await catalogue.compareListing('stripe', '', [], [])).gone).toEqual(['Saltmarsh']);
    });

    test('a file beside a unit that is forgotten while the unit is read is not known again', async () => {
      const { catalogue } = subject();
      const before = clipOf([A1, SIDECAR]);
      await catalogue.finishUnit('stripe', A1.unit, [A1, SIDECAR], [before]);
      const written = { ...A1, size: 5000, state: 'arriving' as const };
      await catalogue.putFiles([written]);
      await catalogue.forget('stripe', [SIDECAR.path]);
      await catalogue.finishUnit('stripe', A1.unit, [written], [clipOf([written, SIDECAR])], [SIDECAR]);
      const ready = { ...written, state: 'ready' as const };
      expect(await catalogue.filesOfUnits('stripe', [A1.unit])).toEqual([ready]);
      expect((await catalogue.projects(1))[0]).toMatchObject({ bytes: 5000, clips: 0 });
      // It is read again, also after a restart.
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([ready]);
      await catalogue.finishUnit('stripe', A1.unit, [written], [clipOf([ready])], []);
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([]);
      expect(await catalogue.clips({})).toEqual([clipOf([ready])]);
    });

    test('a file beside a unit that is still known is finished with it, as another kind if need be', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1, { ...SIDECAR, kind: 'other' }]);
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1, SIDECAR])], [SIDECAR]);
      expect(await catalogue.filesOfUnits('stripe', [A1.unit])).toEqual([A1, SIDECAR]);
      expect(await catalogue.clips({})).toHaveLength(1);
    });
  });

  describe(`${name}: a second name that comes`, () => {
    const subject = fresh(make);
    const link = { ...someFile('Lock Keepers/1.mov', { project: 'Lock Keepers' }), ino: A1.ino, nlink: 2 };
    const bytes = async ({ catalogue }: Subject) =>
      (await catalogue.projects(1)).map(({ project, bytes }) => [project, bytes]);

    test('does not count the bytes again, though nothing told that the first is one of two now', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1]);
      await catalogue.putFiles([link]);
      expect(await bytes(subject())).toEqual([
        ['Lock Keepers', 1000],
        ['Tidewater Sessions', 0],
      ]);
      expect(await catalogue.filesOfUnits('stripe', [A1.unit])).toEqual([{ ...A1, nlink: 2 }]);
      await catalogue.forget('stripe', [link.path]);
      expect(await bytes(subject())).toEqual([['Tidewater Sessions', 1000]]);
    });

    test.each([
      ['of another volume', { volume: 'shelf-a' }],
      ['of another device', { dev: 7n }],
      ['whose inode says nothing', { ino: 0n }],
    ])('leaves a file %s alone', async (_, change) => {
      const { catalogue } = subject();
      const other = { ...A1, ...change };
      await catalogue.putFiles([other, { ...link, ino: other.ino }]);
      expect(await catalogue.filesOfUnits(other.volume, [A1.unit])).toEqual([other]);
    });

    test('once it is known, what a first name is told as later holds', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1, link]);
      await catalogue.putFiles([{ ...A1, ctimeNs: A1.ctimeNs + 1n }]);
      await catalogue.putFiles([link]);
      expect((await catalogue.filesOfUnits('stripe', [A1.unit]))[0]?.nlink).toBe(1);
    });
  });
}
