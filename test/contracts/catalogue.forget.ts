import { describe, expect, test } from 'vitest';
import { fresh, type Subject } from './catalogue.contract.ts';
import { clipOf, filesBelow, sidecarOf, someFile, unfinishedOf } from './catalogue.material.ts';

const A1 = someFile('Tidewater Sessions/A/A001.mov');
const A2 = someFile('Tidewater Sessions/A/A002.mov', { size: 2000 });

/** How every catalogue forgets, the real one and the fake. */
export function forgetContract(name: string, make: () => Promise<Subject>): void {
  describe(`${name}: forgetting`, () => {
    const subject = fresh(make);

    test('a file, and a folder with all below it; % and _ are letters like others', async () => {
      const { catalogue } = subject();
      const paths = [
        'P/a_c/1.mov',
        'P/a_c/d/2.mov',
        'P/a_c',
        'P/abc/3.mov',
        'P/a_c-x/4.mov',
        'P/a_c0/5.mov',
        'P/100%/6.mov',
      ];
      await catalogue.putFiles(paths.map((path) => someFile(path)));
      expect(await catalogue.forget('stripe', ['P/a_c', 'P/100%', 'P/never-was'])).toMatchObject({
        units: [],
        files: 4,
        bytes: 4000,
      });
      const left = await filesBelow(catalogue, 'stripe', ['']);
      expect(left.map((file) => file.path).sort()).toEqual(['P/a_c-x/4.mov', 'P/a_c0/5.mov', 'P/abc/3.mov']);
    });

    test('a clip that lost all files goes; the unit of one that lost some is named', async () => {
      const { catalogue } = subject();
      const sidecar = sidecarOf(A1);
      await catalogue.finishUnit('stripe', A1.unit, [A1, sidecar], [clipOf([A1, sidecar])]);
      await catalogue.finishUnit('stripe', A2.unit, [A2], [clipOf([A2])]);
      expect(await catalogue.forget('stripe', [sidecar.path, A2.path])).toMatchObject({
        units: [A1.unit],
        files: 2,
        bytes: 2010,
      });
      expect((await catalogue.clips({})).map((clip) => clip.unit)).toEqual([A1.unit]);
      await catalogue.forget('stripe', ['Tidewater Sessions']);
      expect(await catalogue.counts()).toEqual({ files: 0, clips: 0 });
    });

    test('a clip that lost a part of its essence goes, and so does one with sidecars and refused files left', async () => {
      const { catalogue } = subject();
      const frames = [1, 2, 3].map((n) => someFile(`Tidewater Sessions/S/S_${n}.dpx`, { unit: 'S', size: n }));
      const [first, ...rest] = frames;
      if (first === undefined) throw new Error('there are three');
      await catalogue.finishUnit('stripe', 'S', frames, [clipOf(frames)]);
      expect(await catalogue.forget('stripe', [first.path])).toMatchObject({ units: ['S'], files: 1, bytes: 1 });
      expect(await catalogue.clips({})).toEqual([]);
      expect(await catalogue.filesOfUnits('stripe', ['S'])).toEqual(rest);

      const [note, other] = [sidecarOf(A1), { ...sidecarOf(A1), path: 'Tidewater Sessions/A/A001.txt' }];
      const refused = someFile('Tidewater Sessions/A/A001.mp4', { unit: A1.unit, state: 'refused' });
      await catalogue.finishUnit('stripe', A1.unit, [refused, note, other], [clipOf([note, other])]);
      expect(await catalogue.forget('stripe', [other.path])).toMatchObject({ units: [A1.unit] });
      expect(await catalogue.clips({})).toEqual([]);
    });

    test('a unit that lost a file is unfinished until it is finished again, or nothing is left of it', async () => {
      const { catalogue } = subject();
      const sidecar = sidecarOf(A1);
      await catalogue.putFiles([someFile('late.mov', { volume: 'shelf-a', state: 'arriving' })]);
      const paths = async () => {
        const broken = (await unfinishedOf(catalogue, 'stripe', 'broken')).map(({ path }) => path);
        expect((await unfinishedOf(catalogue, 'stripe')).map(({ path }) => path)).toEqual(broken);
        return broken;
      };
      for (const unit of [A1.unit, A2.unit]) {
        const [file, note] = unit === A1.unit ? [A1, sidecar] : [A2, sidecarOf(A2)];
        await catalogue.finishUnit('stripe', unit, [file, note], [clipOf([file, note])]);
      }
      await catalogue.forget('stripe', [sidecar.path, A2.path]);
      expect(await paths()).toEqual([A1.path, sidecarOf(A2).path]);
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1])]);
      await catalogue.forget('stripe', [sidecarOf(A2).path]);
      expect(await paths()).toEqual([]);
      await catalogue.putFiles([A2]);
      expect(await paths()).toEqual([]);
    });

    test('the root forgets the whole volume, and no other', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1, someFile('loose.mov'), { ...A1, volume: 'shelf-a' }]);
      expect(await catalogue.forget('stripe', [''])).toMatchObject({ units: [], files: 2, bytes: 2000 });
      expect(await catalogue.counts()).toEqual({ files: 1, clips: 0 });
      expect(await catalogue.forget('stripe', [''])).toMatchObject({ units: [], files: 0, bytes: 0 });
    });

    test('what is removed is recorded by the hour and by project; what was renamed or left out is not', async () => {
      const { catalogue, ledger, clock } = subject();
      const hour = 3_600_000;
      const proxy = someFile('Tidewater Sessions/Proxies/A001.mov', { kind: 'proxy', size: 30 });
      const link = someFile('Lock Keepers/1.mov', { project: 'Lock Keepers', nlink: 2, ino: 77n });
      const other = someFile('Saltmarsh/1.mov', { project: 'Saltmarsh', nlink: 2, ino: 77n });
      const loose = someFile('loose.txt', { area: 'unassigned', project: null, kind: 'other', size: 5 });
      const renamed = someFile('Tidewater Sessions/A/A009.mov', { ino: 9n });
      await catalogue.putFiles([A1, A2, proxy, link, other, loose, renamed]);
      await catalogue.putFiles([{ ...renamed, path: 'Tidewater Sessions/A/A010.mov', unit: 'A010' }]);
      clock.now = 5 * hour + 1;
      await catalogue.forget('stripe', [A1.path, proxy.path, renamed.path, link.path]);
      clock.now = 6 * hour - 1;
      await catalogue.forget('stripe', [A2.path]);
      clock.now = 7 * hour;
      await catalogue.forget('stripe', [loose.path]);
      await catalogue.forget('stripe', [''], 'left-out');
      const zero = { files: 0, bytes: 0, footageBytes: 0 };
      const five = { hour: 5 * hour, area: 'project' };
      const seven = { ...zero, hour: 7 * hour, area: 'unassigned', project: null, files: 1, bytes: 5 };
      expect(await ledger.removals('stripe', 0)).toEqual([
        // The content is Saltmarsh's now.
        { ...five, project: 'Lock Keepers', files: 1, bytes: 1000, footageBytes: 1000 },
        { ...five, project: 'Saltmarsh', files: 0, bytes: -1000, footageBytes: -1000 },
        { ...five, project: 'Tidewater Sessions', files: 3, bytes: 3030, footageBytes: 3000 },
        seven,
      ]);
      expect(await ledger.removals('stripe', 6 * hour)).toEqual([seven]);
      expect(await ledger.removals('shelf-a', 0)).toEqual([]);
    });
  });
}
