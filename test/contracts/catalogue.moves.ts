import { describe, expect, test } from 'vitest';
import type { Clip, FileRecord } from '../../src/core/model.ts';
import { fresh, type Subject } from './catalogue.contract.ts';
import { clipOf, PRORES_UHD25, sidecarOf, someFile, statOf, unfinishedOf } from './catalogue.material.ts';

const A1 = someFile('Saltmarsh/Day 1/A001.mov', { project: 'Saltmarsh', unit: 'Saltmarsh/Day 1/a001.*' });
const NOTE = { ...sidecarOf(A1), project: 'Saltmarsh' };

/** The file under another path, as a rename leaves it: another change time and, after a mount, another device. */
function moved(file: FileRecord, path: string, changes: Partial<FileRecord> = {}): FileRecord {
  const unit = path.toLowerCase().endsWith('.mov') ? `${path.slice(0, -4)}.*` : path;
  return { ...file, path, unit, ctimeNs: file.ctimeNs + 5n, dev: 9n, ...changes };
}

/** What every catalogue makes of files that moved, the real one and the fake. */
export function movesContract(name: string, make: () => Promise<Subject>): void {
  describe(`${name}: moves`, () => {
    const subject = fresh(make);
    const finish = (files: FileRecord[], changes: Partial<Clip> = {}) => {
      const [first] = files;
      if (first === undefined) throw new Error('a unit has files');
      return subject().catalogue.finishUnit('stripe', first.unit, files, [clipOf(files, PRORES_UHD25, changes)]);
    };

    test('a ready file of one name is seen under another path: the same inode, size and modification time', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1]);
      const file = statOf(moved(A1, 'Saltmarsh/Day 01/A001.mov'));
      const diff = { fresh: [], moved: [{ file, from: A1.path }], replacing: [] };
      expect(await catalogue.compareFiles('stripe', [file])).toEqual(diff);
      expect(await catalogue.compareListing('stripe', 'Saltmarsh/Day 01', [file], [])).toEqual({ ...diff, gone: [] });
    });

    test.each<[string, Partial<FileRecord>, Partial<FileRecord>]>([
      ['another size', {}, { size: 999 }],
      ['another modification time', {}, { mtimeNs: A1.mtimeNs + 1n }],
      ['another inode', {}, { ino: A1.ino + 1n }],
      ['a second name', {}, { nlink: 2 }],
      ['one that had a second name', { nlink: 2 }, {}],
      ['inodes that say nothing', { ino: 0n }, {}],
      ['one that is arriving', { state: 'arriving' }, {}],
      ['one that was refused', { state: 'refused' }, {}],
      ['one of another volume', { volume: 'shelf-a' }, {}],
    ])('it is none: %s', async (_, known, seen) => {
      const { catalogue } = subject();
      await catalogue.putFiles([{ ...A1, ...known }]);
      const file = statOf(moved({ ...A1, ...known, ...seen }, 'Saltmarsh/other.mov'));
      expect(await catalogue.compareFiles('stripe', [file])).toEqual({ fresh: [file], moved: [], replacing: [] });
    });

    test('what is arriving under its new path already settles there; another inode in its place replaces', async () => {
      const { catalogue } = subject();
      const there = moved(A1, 'Saltmarsh/other.mov', { state: 'arriving' });
      await catalogue.putFiles([A1, there]);
      expect(await catalogue.compareFiles('stripe', [statOf(there)])).toMatchObject({ fresh: [statOf(there)] });
      const other = statOf(A1, { ino: 5n });
      expect(await catalogue.compareFiles('stripe', [other])).toEqual({ fresh: [], moved: [], replacing: [other] });
      const unknown = statOf(A1, { ino: 0n, size: 1 });
      expect(await catalogue.compareFiles('stripe', [unknown])).toMatchObject({ fresh: [unknown] });
    });

    test('a clip moves with its files and stays what it is; sums, order and first sighting too', async () => {
      const { catalogue, clock } = subject();
      clock.now = 100;
      await finish([A1, NOTE], { readyAt: 55, evidence: 'no-writer' });
      const before = await catalogue.projects(1);
      clock.now = 900;
      const files = [moved(A1, 'Saltmarsh/Day 01/A001.mov'), moved(NOTE, 'Saltmarsh/Day 01/A001.xml')];
      const there = files.map((file) => ({ ...file, unit: 'Saltmarsh/Day 01/a001.*' }));
      const moves = [A1, NOTE].map(({ path }, at) => ({ from: path, file: there[at] as FileRecord }));
      expect(await catalogue.moveFiles('stripe', moves)).toEqual({ left: [], again: [] });
      expect(await catalogue.projects(1)).toEqual(before);
      const changes = { readyAt: 55, evidence: 'no-writer', groupedBy: 'same-stem' } as const;
      expect(await catalogue.clips({})).toEqual([clipOf(there, PRORES_UHD25, changes)]);
      expect(await catalogue.filesOfUnits('stripe', [A1.unit, 'Saltmarsh/Day 01/a001.*'])).toEqual(there);
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([]);
      expect(
        (
          await catalogue.compareFiles(
            'stripe',
            there.map((file) => statOf(file)),
          )
        ).fresh,
      ).toEqual([]);
    });

    test('into another project and into the trash: bytes and exposure follow, and nothing in the trash is a clip', async () => {
      const { catalogue } = subject();
      await finish([A1]);
      const there = moved(A1, 'Lock Keepers/A001.mov', { project: 'Lock Keepers' });
      await catalogue.moveFiles('stripe', [{ from: A1.path, file: there }]);
      expect(await catalogue.projects(1)).toMatchObject([
        { project: 'Lock Keepers', bytes: 1000, clips: 1, exposed: { bytes: 1000, clips: 1 } },
      ]);
      const trashed = moved(there, '.Trash-1000/A001.mov', { area: 'trash', project: null });
      const kept = await catalogue.moveFiles('stripe', [{ from: there.path, file: trashed }]);
      expect(kept).toEqual({ left: [], again: [] });
      expect(await catalogue.projects(1)).toMatchObject([
        { area: 'trash', bytes: 1000, clips: 0, exposed: { bytes: 0 } },
      ]);
      expect(await catalogue.clips({})).toEqual([]);
    });

    test('frames: the half that keeps the frame that was read is a clip, the other has to be read', async () => {
      const { catalogue } = subject();
      const frames = Array.from({ length: 40 }, (_, at) =>
        someFile(`Saltmarsh/s/S_${String(at + 1).padStart(4, '0')}.dpx`, {
          unit: 'Saltmarsh/s/S_[####].dpx',
          size: 10,
        }),
      );
      const facts = { ...PRORES_UHD25, frames: 40, videoBytes: 400, durationSeconds: 1.6 };
      const made = clipOf([frames[0], frames.at(-1)] as FileRecord[], facts, {
        fileCount: 40,
        ...({ name: 'S_[0001-0040].dpx', parts: 'frames', groupedBy: 'numbered-frames' } as const),
      });
      await catalogue.finishUnit('stripe', made.unit, frames, [made]);
      const unit = 'Saltmarsh/t/S_[####].dpx';
      const moves = frames
        .slice(20)
        .map((file) => ({ from: file.path, file: moved(file, file.path.replace('/s/', '/t/'), { unit }) }));
      expect(await catalogue.moveFiles('stripe', moves)).toEqual({ left: [], again: [unit] });
      expect(await catalogue.clips({})).toMatchObject([
        { name: 'S_[0001-0020].dpx', fileCount: 20, bytes: 200, facts: { frames: 20, durationSeconds: 0.8 } },
      ]);
      expect((await unfinishedOf(catalogue, 'stripe')).map(({ path }) => path)).toEqual(
        moves.map(({ file }) => file.path),
      );
      const back = moves.map(({ from, file }) => ({ from: file.path, file: moved(file, from, { unit: made.unit }) }));
      expect(await catalogue.moveFiles('stripe', back)).toEqual({ left: [], again: [] });
      expect(await catalogue.clips({})).toMatchObject([
        { name: 'S_[0001-0040].dpx', fileCount: 40, bytes: 400, facts: { frames: 40, durationSeconds: 1.6 } },
      ]);
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([]);
    });

    test('files that change places, and one that takes the place of another', async () => {
      const { catalogue } = subject();
      const other = someFile('Saltmarsh/B.mov', { project: 'Saltmarsh', size: 7, unit: 'Saltmarsh/B.*' });
      await finish([A1], { readyAt: 1 });
      await finish([other], { readyAt: 2 });
      const swapped = [
        { from: A1.path, file: moved(A1, other.path) },
        { from: other.path, file: moved(other, A1.path, { unit: A1.unit }) },
      ];
      expect(await catalogue.moveFiles('stripe', swapped)).toEqual({ left: [], again: [] });
      expect((await catalogue.clips({})).map(({ paths, bytes }) => [paths[0], bytes])).toEqual([
        [A1.path, 7],
        [other.path, 1000],
      ]);
      const over = { from: other.path, file: moved(moved(A1, other.path), A1.path, { unit: A1.unit }) };
      expect(await catalogue.moveFiles('stripe', [over])).toEqual({ left: [], again: [] });
      expect((await catalogue.clips({})).map(({ paths, bytes }) => [paths[0], bytes])).toEqual([[A1.path, 1000]]);
      expect((await catalogue.projects(1))[0]).toMatchObject({ bytes: 1000, clips: 1 });
      expect(await catalogue.counts()).toEqual({ files: 1, clips: 1 });
    });

    test('what is not known as it was is left alone: gone meanwhile, changed, two for one place', async () => {
      const { catalogue } = subject();
      const other = someFile('Saltmarsh/B.mov', { project: 'Saltmarsh', unit: 'Saltmarsh/B.*' });
      await finish([A1]);
      await finish([other]);
      const moves = [
        { from: 'Saltmarsh/never-was.mov', file: moved(A1, 'Saltmarsh/x.mov') },
        { from: A1.path, file: moved({ ...A1, size: 5 }, 'Saltmarsh/y.mov') },
        { from: A1.path, file: moved(A1, 'Saltmarsh/z.mov') },
        { from: other.path, file: moved(other, 'Saltmarsh/z.mov') },
      ];
      const { left } = await catalogue.moveFiles('stripe', moves);
      expect(left).toEqual(['Saltmarsh/x.mov', 'Saltmarsh/y.mov', 'Saltmarsh/z.mov']);
      expect((await catalogue.clips({})).map(({ paths }) => paths[0]).sort()).toEqual([other.path, 'Saltmarsh/z.mov']);
    });

    test('files on their way to the unit: its clip is there, and it settles once more', async () => {
      const { catalogue } = subject();
      await finish([A1]);
      const there = moved(A1, 'Saltmarsh/other.mov');
      await catalogue.putFiles([
        someFile('Saltmarsh/other.xml', { unit: there.unit, kind: 'sidecar', state: 'arriving' }),
      ]);
      expect(await catalogue.moveFiles('stripe', [{ from: A1.path, file: there }])).toEqual({
        left: [],
        again: [there.unit],
      });
      expect(await catalogue.clips({})).toHaveLength(1);
    });

    test('forgetting a path that was renamed meanwhile is no loss; what is really gone is', async () => {
      const { catalogue } = subject();
      const growing = someFile('Saltmarsh/B.mov', { project: 'Saltmarsh', size: 7, state: 'arriving' });
      await catalogue.putFiles([
        A1,
        growing,
        moved(A1, 'Saltmarsh/x.mov'),
        moved(growing, 'Saltmarsh/y.mov', { size: 70 }),
      ]);
      const lost = someFile('Saltmarsh/lost.mov', { project: 'Saltmarsh', size: 3 });
      await catalogue.putFiles([lost, someFile('Saltmarsh/new.mov', { ino: lost.ino, size: 4 })]);
      const paths = [A1.path, growing.path, lost.path];
      const none = { units: [], files: 0, bytes: 0, first: null };
      expect(await catalogue.forget('stripe', paths.slice(0, 1), 'renamed')).toEqual(none);
      expect(await catalogue.counts()).toMatchObject({ files: 5 });
      expect(await catalogue.forget('stripe', [lost.path], 'renamed')).toEqual(none);
      expect(await catalogue.forget('stripe', paths)).toEqual({ units: [], files: 1, bytes: 3, first: lost.path });
      expect(await catalogue.counts()).toMatchObject({ files: 3 });
    });

    test('only the files of some paths, nothing below', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([someFile('p/a'), someFile('p/a/b')]);
      expect(await catalogue.forget('stripe', ['p/a', ''], 'files')).toMatchObject({ files: 1, first: 'p/a' });
      expect(await catalogue.counts()).toMatchObject({ files: 1 });
    });
  });
}
