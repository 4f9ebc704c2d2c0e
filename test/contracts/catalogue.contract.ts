import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Clip, FileRecord } from '../../src/core/model.ts';
import type { CataloguePort, FilesDiff, LedgerPort } from '../../src/core/store-ports.ts';
import { clipOf, PRORES_UHD25, sidecarOf, someFile, statOf, unfinishedOf } from './catalogue.material.ts';

/** A catalogue and a ledger to test, empty, at the time of `clock` (ms since 1970, at first 0); `end` lets them go. */
export interface Subject {
  catalogue: CataloguePort;
  ledger: LedgerPort;
  clock: { now: number };
  end(): Promise<void>;
}

const NOTHING: FilesDiff = { fresh: [], moved: [], replacing: [] };
const A1 = someFile('Tidewater Sessions/A/A001.mov');
const A2 = someFile('Tidewater Sessions/A/A002.mov', { size: 2000 });
const B1 = someFile('Tidewater Sessions/B/B001.mov', { size: 500 });

/** What every catalogue must do, the real one and the fake. */
export function catalogueContract(name: string, make: () => Promise<Subject>): void {
  describe(`${name}: comparing with what is known`, () => {
    const subject = fresh(make);

    test('a file is fresh when it is new, changed or still arriving, and not when it is known or refused', async () => {
      const { catalogue } = subject();
      const arriving = { ...A2, state: 'arriving' as const };
      const refused = someFile('Tidewater Sessions/A/A003.mov', { state: 'refused' });
      await catalogue.putFiles([A1, arriving, refused]);
      const unknown = someFile('Tidewater Sessions/A/A004.mov');
      const seen = [A1, arriving, refused, unknown].map((file) => statOf(file));
      const { fresh } = await catalogue.compareFiles('stripe', seen);
      expect(fresh.map((file) => file.path)).toEqual([A2.path, unknown.path]);
      const diff = await catalogue.compareListing('stripe', 'Tidewater Sessions/A', seen, []);
      expect(diff).toEqual({ ...NOTHING, fresh: [seen[1], seen[3]], gone: [] });
    });

    test.each([
      ['size', { size: 1001 }],
      ['modification time by one nanosecond', { mtimeNs: A1.mtimeNs + 1n }],
      ['change time by one nanosecond', { ctimeNs: A1.ctimeNs + 1n }],
      ['inode', { ino: A1.ino + 1n }],
    ])('a different %s is a change', async (_, change) => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1]);
      const seen = statOf(A1, change);
      const { fresh, replacing } = await catalogue.compareFiles('stripe', [seen]);
      expect([...fresh, ...replacing]).toEqual([seen]);
    });

    test('a different device number, or blocks written out late, is no change', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1]);
      const seen = statOf(A1, { dev: 66_306n, allocated: 8192 });
      expect(await catalogue.compareFiles('stripe', [seen])).toEqual(NOTHING);
    });

    test('the same path on another volume is another file', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1]);
      expect(await catalogue.compareFiles('shelf-a', [statOf(A1)])).toEqual({ ...NOTHING, fresh: [statOf(A1)] });
    });

    test('what a listing no longer has is gone', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1, A2, B1]);
      const diff = await catalogue.compareListing('stripe', 'Tidewater Sessions/A', [statOf(A2)], []);
      expect(diff).toEqual({ ...NOTHING, gone: [A1.path] });
    });

    test('of folders that vanished the topmost is gone, and nothing beside it', async () => {
      const { catalogue } = subject();
      const kept = ['a/1.mov', 'a-b/1.mov', 'a/x/1.mov', 'top.mov', 'a/x y/1.mov'].map((path) => someFile(path));
      const lost = ['a0/1.mov', 'a0/deep/er/1.mov', 'a!/1.mov'].map((path) => someFile(path));
      await catalogue.putFiles([...kept, ...lost]);
      const diff = await catalogue.compareListing('stripe', '', [statOf(someFile('top.mov'))], ['a', 'a-b']);
      expect(diff.gone.sort()).toEqual(['a!', 'a0']);
      const inner = await catalogue.compareListing('stripe', 'a', [statOf(someFile('a/1.mov'))], ['a/x y']);
      expect(inner.gone).toEqual(['a/x']);
    });

    test('a folder that became a file, and a file that became a folder', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([someFile('p/was-folder/1.mov'), someFile('p/was-file')]);
      const diff = await catalogue.compareListing('stripe', 'p', [statOf(someFile('p/was-folder'))], ['p/was-file']);
      expect(diff.fresh.map((file) => file.path)).toEqual(['p/was-folder']);
      expect(diff.gone.sort()).toEqual(['p/was-file', 'p/was-folder/1.mov']);
    });

    test('comparing writes nothing', async () => {
      const { catalogue } = subject();
      await catalogue.compareListing('stripe', 'A', [statOf(A1)], []);
      await catalogue.compareFiles('stripe', [statOf(A1)]);
      expect(await catalogue.counts()).toEqual({ files: 0, clips: 0 });
    });
  });

  describe(`${name}: files and units`, () => {
    const subject = fresh(make);

    test('a record comes back as it was put: 64-bit figures, names that are no UTF-8, control characters', async () => {
      const { catalogue } = subject();
      const odd = someFile('Saltmarsh/\u001b[31m\n100%_\uf7ff𝕏/x.mov', {
        size: 2 ** 42 + 1,
        mtimeNs: -1n,
        ctimeNs: 2n ** 62n + 1n,
        dev: 2n ** 40n,
        ino: 2n ** 64n - 1n,
        project: 'Saltmarsh',
        state: 'arriving',
      });
      await catalogue.putFiles([odd]);
      expect(await catalogue.filesOfUnits('stripe', [odd.unit])).toEqual([odd]);
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([odd]);
      expect(await catalogue.compareListing('stripe', 'Saltmarsh', [], ['Saltmarsh/\u001b[31m\n100%_\uf7ff𝕏'])).toEqual(
        { ...NOTHING, gone: [] },
      );
    });

    test('putting a file again replaces it', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1]);
      await catalogue.putFiles([{ ...A1, size: 7, state: 'arriving' }]);
      expect(await catalogue.filesOfUnits('stripe', [A1.unit])).toEqual([{ ...A1, size: 7, state: 'arriving' }]);
      expect(await catalogue.counts()).toEqual({ files: 1, clips: 0 });
    });

    test('a file that was finished while it was compared stays ready, with its clip', async () => {
      const { catalogue } = subject();
      const file = { ...A1, state: 'arriving' as const };
      expect(await catalogue.putFiles([file])).toEqual([]);
      const clip = clipOf([A1], PRORES_UHD25);
      await catalogue.finishUnit('stripe', A1.unit, [file], [clip]);
      const another = { ...someFile('b/2.mov'), state: 'arriving' as const };
      expect(await catalogue.putFiles([another, file])).toEqual([A1.path]);
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([another]);
      expect(await catalogue.clips({})).toEqual([clip]);
      // Changed meanwhile, it has to settle again.
      expect(await catalogue.putFiles([{ ...file, ctimeNs: file.ctimeNs + 1n }])).toEqual([]);
      expect(await catalogue.clips({})).toEqual([]);
    });

    test('unfinished are the files of that volume that are not ready', async () => {
      const { catalogue } = subject();
      const late = someFile('b/2.mov', { state: 'arriving' });
      const early = someFile('a/1.mov', { state: 'refused' });
      await catalogue.putFiles([late, A1, early, { ...early, volume: 'shelf-a' }]);
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([early, late]);
      expect(await unfinishedOf(catalogue, 'stripe', 'broken')).toEqual([]);
    });

    test('a finished unit has its clip; what was arriving is ready, what was refused stays refused', async () => {
      const { catalogue } = subject();
      const file = { ...A1, state: 'arriving' as const };
      const bad = someFile('Tidewater Sessions/A/A001.xml', { unit: A1.unit, kind: 'sidecar', state: 'refused' });
      await catalogue.putFiles([file, bad]);
      const clip = clipOf([A1, bad], PRORES_UHD25, { missingFrames: [{ first: 3, last: 4 }] });
      await catalogue.finishUnit('stripe', A1.unit, [file, bad], [clip]);
      expect(await catalogue.clips({})).toEqual([clip]);
      expect((await catalogue.filesOfUnits('stripe', [A1.unit])).map((each) => each.state)).toEqual([
        'ready',
        'refused',
      ]);
      expect(await unfinishedOf(catalogue, 'stripe')).toEqual([bad]);
    });

    test('finishing again replaces the clip, finishing without a clip removes it', async () => {
      const { catalogue } = subject();
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1], PRORES_UHD25)]);
      const longer = clipOf([A1], { ...PRORES_UHD25, durationSeconds: 20 });
      await catalogue.finishUnit('stripe', A1.unit, [A1], [longer]);
      expect(await catalogue.clips({})).toEqual([longer]);
      await catalogue.finishUnit('stripe', A1.unit, [{ ...A1, state: 'refused' }], []);
      expect(await catalogue.clips({})).toEqual([]);
      expect(await catalogue.counts()).toEqual({ files: 1, clips: 0 });
    });

    test('several clips of one unit come and go together', async () => {
      const { catalogue } = subject();
      const second = { ...clipOf([A1], PRORES_UHD25), unit: `${A1.unit}#A001.mp4`, readyAt: 1 };
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1]), second]);
      expect((await catalogue.clips({})).map(({ unit }) => unit)).toEqual([A1.unit, second.unit]);
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1])]);
      expect((await catalogue.clips({})).map(({ unit }) => unit)).toEqual([A1.unit]);
    });

    test('a text is kept under its key', async () => {
      const { catalogue } = subject();
      expect(await catalogue.recall('placing:stripe')).toBeNull();
      await catalogue.remember('placing:stripe', '*');
      await catalogue.remember('placing:stripe', '.');
      expect(await catalogue.recall('placing:stripe')).toBe('.');
    });

    test('a clip whose essence moves to another unit goes', async () => {
      const { catalogue } = subject();
      const sidecar = sidecarOf(A1);
      await catalogue.finishUnit('stripe', A1.unit, [A1, sidecar], [clipOf([A1, sidecar])]);
      await catalogue.putFiles([{ ...A1, unit: 'sequence' }]);
      expect(await catalogue.clips({})).toEqual([]);
    });

    test.each([
      ['is another one', { ino: A1.ino + 1n }],
      ['grew', { size: 1001 }],
      ['was written again', { mtimeNs: A1.mtimeNs + 1n, state: 'arriving' as const }],
      ['was cut and refused', { size: 12, state: 'refused' as const }],
    ])('a clip goes when its essence %s, comes back when the unit is finished; the bytes stay', async (_, change) => {
      const { catalogue } = subject();
      const sound = someFile('Tidewater Sessions/A/A001.wav', { unit: A1.unit, kind: 'sound', size: 70 });
      const clips = [clipOf([A1, sound]), { ...clipOf([sound]), unit: `${A1.unit}#A001.wav` }];
      await catalogue.finishUnit('stripe', A1.unit, [A1, sound], clips);
      await catalogue.finishUnit('stripe', A2.unit, [A2], [clipOf([A2])]);
      const now = { ...A1, ...change };
      await catalogue.putFiles([now]);
      expect((await catalogue.clips({})).map(({ unit }) => unit)).toEqual([A2.unit]);
      expect((await catalogue.projects(1))[0]).toMatchObject({ bytes: now.size + 2070, clips: 1 });
      await catalogue.finishUnit('stripe', A1.unit, [{ ...now, state: 'ready' }, sound], [clipOf([now, sound])]);
      expect((await catalogue.clips({})).map(({ unit }) => unit).sort()).toEqual([A1.unit, A2.unit]);
    });

    test('a clip stays when nothing of its essence changed: put again as it was, on another device, or its sidecar', async () => {
      const { catalogue } = subject();
      const sidecar = sidecarOf(A1);
      const clip = clipOf([A1, sidecar]);
      await catalogue.finishUnit('stripe', A1.unit, [A1, sidecar], [clip]);
      await catalogue.putFiles([A1, { ...A1, dev: 9n, allocated: 1 }, { ...sidecar, size: 99, state: 'arriving' }]);
      await catalogue.putFiles([{ ...sidecar, size: 99, state: 'refused' }]);
      expect(await catalogue.clips({})).toEqual([clip]);
    });

    test('footage of which something is missing is found, newest first, until it is whole, in the trash, or gone', async () => {
      const { catalogue } = subject();
      const lack = { missingParts: [{ first: 2, last: 2 }] };
      const trashed = someFile('.Trash-1000/files/3.mov', { area: 'trash', project: null });
      const proxy = someFile('Tidewater Sessions/p.mov', { kind: 'proxy' });
      const elsewhere = someFile('Saltmarsh/1.mov', { project: 'Saltmarsh', volume: 'shelf-a' });
      const keep = (file: FileRecord, more: Partial<Clip>) =>
        catalogue.finishUnit(file.volume, file.unit, [file], [clipOf([file], {}, more)]);
      await keep(A1, { ...lack, readyAt: 1000 });
      await keep(A2, { missingFrames: [{ first: 7, last: 9 }], readyAt: 2000 });
      await keep(B1, { readyAt: 3000 });
      for (const file of [trashed, proxy, elsewhere]) await keep(file, lack);
      const found = async (newest = 10) => (await catalogue.lacking('stripe', newest)).map(({ unit }) => unit);
      expect([await found(), await found(1)]).toEqual([[A2.unit, A1.unit], [A2.unit]]);
      await keep(A2, { readyAt: 2000 });
      expect(await found()).toEqual([A1.unit]);
      await catalogue.forget('stripe', [A1.path]);
      expect(await found()).toEqual([]);
    });

    test('picture and sound that no reader could read is found, newest first, until it is read or in the trash', async () => {
      const { catalogue } = subject();
      const unread = { state: 'not-decoded' } as const;
      const trashed = someFile('.Trash-1000/files/3.mov', { area: 'trash', project: null });
      const still = someFile('Tidewater Sessions/s.raw', { kind: 'still' });
      const elsewhere = someFile('Saltmarsh/1.mov', { project: 'Saltmarsh', volume: 'shelf-a' });
      const keep = (file: FileRecord, more: Partial<Clip>) =>
        catalogue.finishUnit(file.volume, file.unit, [file], [clipOf([file], {}, more)]);
      await keep(A1, { ...unread, readyAt: 1000, troubles: ['no picture and no sound was found in it'] });
      await keep(A2, { ...unread, readyAt: 2000 });
      await keep(B1, { readyAt: 3000 });
      for (const file of [trashed, still, elsewhere]) await keep(file, unread);
      const found = async (newest = 10) => (await catalogue.undecoded('stripe', newest)).map(({ unit }) => unit);
      expect([await found(), await found(1)]).toEqual([[A2.unit, A1.unit], [A2.unit]]);
      expect((await catalogue.undecoded('stripe', 9))[1]?.troubles).toEqual([
        'no picture and no sound was found in it',
      ]);
      await keep(A2, { readyAt: 2000 });
      expect(await found()).toEqual([A1.unit]);
    });

    test('clips come newest first, at most so many, of one volume or project', async () => {
      const { catalogue } = subject();
      const made = [A1, A2, B1].map((file, place) => clipOf([file], {}, { readyAt: 1000 + place }));
      const other = clipOf(
        [someFile('Saltmarsh/1.mov', { project: 'Saltmarsh', volume: 'shelf-a' })],
        {},
        { readyAt: 5 },
      );
      for (const clip of [...made, other]) await catalogue.finishUnit(clip.volume, clip.unit, [], [clip]);
      const names = async (query: Parameters<CataloguePort['clips']>[0]) =>
        (await catalogue.clips(query)).map((clip) => clip.name);
      expect(await names({})).toEqual(['B001.mov', 'A002.mov', 'A001.mov', '1.mov']);
      expect(await names({ newest: 2 })).toEqual(['B001.mov', 'A002.mov']);
      expect(await names({ project: 'Saltmarsh' })).toEqual(['1.mov']);
      expect(await names({ volume: 'stripe', newest: 1 })).toEqual(['B001.mov']);
      expect(await names({ volume: 'stripe', project: 'Saltmarsh' })).toEqual([]);
    });
  });
}

/** A new subject for every test of a group. */
export function fresh(make: () => Promise<Subject>): () => Subject {
  let subject: Subject | null = null;
  beforeEach(async () => {
    subject = await make();
  });
  afterEach(async () => {
    await subject?.end();
  });
  return () => {
    if (subject === null) throw new Error('only inside a test');
    return subject;
  };
}
