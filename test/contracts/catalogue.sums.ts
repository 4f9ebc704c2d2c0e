import { describe, expect, test } from 'vitest';
import type { VolumeMoment } from '../../src/core/assess/moments.ts';
import type { ClipFacts, FileRecord } from '../../src/core/model.ts';
import { fresh, type Subject } from './catalogue.contract.ts';
import { clipOf, PRORES_UHD25, someFile } from './catalogue.material.ts';

const A1 = someFile('Tidewater Sessions/A/A001.mov');
const A2 = someFile('Tidewater Sessions/A/A002.mov', { size: 2000 });

/** What the sums and the ledger must do, in the real store and in the fakes. */
export function sumsContract(name: string, make: () => Promise<Subject>): void {
  describe(`${name}: sums`, () => {
    const subject = fresh(make);

    test('bytes by kind, footage apart, clips by format', async () => {
      const { catalogue, clock } = subject();
      clock.now = 700;
      const proxy = someFile('Tidewater Sessions/Proxies/A001.mp4', { kind: 'proxy', size: 30 });
      const sound = someFile('Tidewater Sessions/Sound/S01.wav', { kind: 'sound', size: 400 });
      await catalogue.putFiles([proxy]);
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1], PRORES_UHD25, { readyAt: 900 })]);
      const rate = { frameRate: { num: 50, den: 2 }, durationSeconds: 0.04 };
      await catalogue.finishUnit(
        'stripe',
        A2.unit,
        [A2],
        [clipOf([A2], { ...PRORES_UHD25, ...rate }, { readyAt: 800 })],
      );
      await catalogue.finishUnit('stripe', sound.unit, [sound], [clipOf([sound], { codec: 'PCM' }, { readyAt: 850 })]);
      const sums = await catalogue.projects(1);
      const noFormat = { width: null, height: null, frameRate: null };
      expect(sums).toEqual([
        {
          volume: 'stripe',
          area: 'project',
          project: 'Tidewater Sessions',
          bytes: 3430,
          footageBytes: 3400,
          clips: 3,
          durationSeconds: 10.04,
          byKind: { original: 3000, proxy: 30, sound: 400 },
          made: { clips: 0, bytes: 30, durationSeconds: 0 },
          formats: [
            {
              codec: 'ProRes 422 HQ',
              width: 3840,
              height: 2160,
              frameRate: { num: 25, den: 1 },
              clips: 2,
              bytes: 3000,
              timedBytes: 3000,
              durationSeconds: 10.04,
            },
            { codec: 'PCM', ...noFormat, clips: 1, bytes: 400, timedBytes: 0, durationSeconds: 0 },
          ],
          exposed: { bytes: 3400, clips: 3, durationSeconds: 10.04, since: 700 },
        },
      ]);
    });

    test('projects, areas and volumes are apart; what is nobody´s is under `null`', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([
        A1,
        someFile('Saltmarsh/1.mov', { project: 'Saltmarsh', size: 1 }),
        someFile('loose.mov', { area: 'unassigned', project: null, size: 2 }),
        someFile('.Trash-1000/files/3.mov', { area: 'trash', project: null, size: 3 }),
        someFile('Caches/4.bin', { area: 'shared', project: null, kind: 'cache', size: 4 }),
        someFile('Saltmarsh/1.mov', { volume: 'shelf-a', project: 'Saltmarsh', size: 5 }),
      ]);
      const sums = (await catalogue.projects(1)).map(({ volume, area, project, bytes }) => [
        volume,
        area,
        project,
        bytes,
      ]);
      expect(sums).toEqual([
        ['shelf-a', 'project', 'Saltmarsh', 5],
        ['stripe', 'project', 'Saltmarsh', 1],
        ['stripe', 'project', 'Tidewater Sessions', 1000],
        ['stripe', 'shared', null, 4],
        ['stripe', 'unassigned', null, 2],
        ['stripe', 'trash', null, 3],
      ]);
    });

    test('a file that grows again changes the bytes at once, its clip goes until the unit is finished again', async () => {
      const { catalogue } = subject();
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1], PRORES_UHD25)]);
      const grown = { ...A1, size: 5000, state: 'arriving' as const };
      await catalogue.putFiles([grown]);
      expect((await catalogue.projects(1))[0]).toMatchObject({
        bytes: 5000,
        clips: 0,
        exposed: { bytes: 5000, clips: 0 },
      });
      await catalogue.finishUnit('stripe', A1.unit, [grown], [clipOf([grown], PRORES_UHD25)]);
      expect((await catalogue.projects(1))[0]).toMatchObject({
        bytes: 5000,
        clips: 1,
        exposed: { bytes: 5000, clips: 1 },
      });
    });

    test('a file that moves to another project takes its bytes along, and an empty project is gone', async () => {
      const { catalogue } = subject();
      await catalogue.putFiles([A1]);
      await catalogue.putFiles([{ ...A1, project: 'Lock Keepers', kind: 'render' }]);
      const sums = await catalogue.projects(1);
      expect(sums).toMatchObject([{ project: 'Lock Keepers', bytes: 1000, footageBytes: 0, byKind: { render: 1000 } }]);
    });

    test('hard links to one content count once, whichever name goes first', async () => {
      const { catalogue } = subject();
      const one = someFile('Lock Keepers/1.mov', { project: 'Lock Keepers', nlink: 2, ino: 77n });
      const two = someFile('Saltmarsh/1.mov', { project: 'Saltmarsh', nlink: 2, ino: 77n });
      const elsewhere = someFile('Saltmarsh/2.mov', { project: 'Saltmarsh', nlink: 2, ino: 77n, dev: 9n });
      const bytes = async () => (await catalogue.projects(1)).map((sum) => [sum.project, sum.bytes]);
      await catalogue.putFiles([two]);
      await catalogue.putFiles([one]);
      expect(await bytes()).toEqual([
        ['Lock Keepers', 1000],
        ['Saltmarsh', 0],
      ]);
      await catalogue.putFiles([elsewhere]);
      expect(await bytes()).toEqual([
        ['Lock Keepers', 1000],
        ['Saltmarsh', 1000],
      ]);
      expect(await catalogue.forget('stripe', [elsewhere.path, one.path])).toMatchObject({
        units: [],
        files: 2,
        bytes: 1000,
      });
      expect(await bytes()).toEqual([['Saltmarsh', 1000]]);
      await catalogue.putFiles([one, { ...two, nlink: 1 }]);
      expect(await bytes()).toEqual([
        ['Lock Keepers', 1000],
        ['Saltmarsh', 1000],
      ]);
      expect(await catalogue.counts()).toEqual({ files: 2, clips: 0 });
    });

    test('when the counted name of a content is replaced by another file, the other name takes over', async () => {
      const { catalogue } = subject();
      const counted = someFile('Lock Keepers/1.mov', { project: 'Lock Keepers', nlink: 2, ino: 77n });
      const other = someFile('Saltmarsh/1.mov', { project: 'Saltmarsh', nlink: 2, ino: 77n });
      await catalogue.putFiles([counted, other]);
      await catalogue.putFiles([{ ...counted, ino: 78n, nlink: 1, size: 5 }]);
      const bytes = (await catalogue.projects(1)).map((sum) => [sum.project, sum.bytes]);
      expect(bytes).toEqual([
        ['Lock Keepers', 5],
        ['Saltmarsh', 1000],
      ]);
    });

    test('nothing is exposed when no copies are wanted, and what is no footage never is', async () => {
      const { catalogue } = subject();
      const proxy = someFile('Tidewater Sessions/Proxies/A001.mp4', { kind: 'proxy' });
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1], PRORES_UHD25)]);
      await catalogue.finishUnit('stripe', proxy.unit, [proxy], [clipOf([proxy], PRORES_UHD25)]);
      const exposed = async (wanted: number) => (await catalogue.projects(wanted))[0]?.exposed;
      expect(await exposed(0)).toEqual({ bytes: 0, clips: 0, durationSeconds: 0, since: null });
      expect(await exposed(2)).toMatchObject({ bytes: 1000, clips: 1, durationSeconds: 10 });
    });
  });

  describe(`${name}: footage by the hour`, () => {
    const subject = fresh(make);

    test('is told by when files were changed last, of footage alone', async () => {
      const { catalogue } = subject();
      const at = (hour: number) => ({ ctimeNs: BigInt(hour) * 3_600_000_000_000n + 5n });
      await catalogue.putFiles([
        someFile('Saltmarsh/A001.mov', { ...at(500_001), size: 10 }),
        someFile('Saltmarsh/A002.mov', { ...at(500_000), size: 20 }),
        someFile('Saltmarsh/A003.mov', { ...at(500_000), size: 30 }),
        someFile('Saltmarsh/Proxies/A003.mp4', { ...at(500_000), size: 40, kind: 'proxy' }),
        someFile('Saltmarsh/B001.mov', { ...at(500_000), size: 50, volume: 'shelf-a' }),
      ]);
      expect(await catalogue.footageHours('stripe')).toEqual([
        { hour: 500_000, bytes: 50 },
        { hour: 500_001, bytes: 10 },
      ]);
      await catalogue.putFiles([
        someFile('Lock Keepers/C001.mov', { ...at(500_002), size: 60, project: 'Lock Keepers' }),
        someFile('Lock Keepers/C002.mov', { ...at(500_002), size: 1, project: 'Lock Keepers', kind: 'render' }),
      ]);
      expect(await catalogue.footageHours('stripe', 'Lock Keepers')).toEqual([{ hour: 500_002, bytes: 60 }]);
      expect(await catalogue.footageHours('stripe', 'Saltmarsh')).toEqual([]);
    });

    test('tells the bytes of a project by format and day, by the hour where no day is known', async () => {
      const { catalogue, clock } = subject();
      const ready = (path: string, facts: Partial<ClipFacts>, bytes: number, changes: Partial<FileRecord> = {}) => {
        const file = someFile(path, { size: bytes, ...changes });
        return catalogue.finishUnit('stripe', file.unit, [file], [clipOf([file], facts, { readyAt: clock.now })]);
      };
      clock.now = 500_000 * 3_600_000 + 1;
      const onDay = { ...PRORES_UHD25, recordedAt: '2027-03-04T23:59:00+01:00' };
      await ready('Tidewater Sessions/1.mov', onDay, 10);
      await ready('Tidewater Sessions/2.mov', { ...onDay, recordedAt: '2027-03-04' }, 20);
      await ready('Tidewater Sessions/3.mov', { ...onDay, codec: 'DNxHR SQ' }, 5);
      await ready('Tidewater Sessions/4.mov', PRORES_UHD25, 7);
      await ready('Tidewater Sessions/5.mov', { ...PRORES_UHD25, recordedAt: 'some day' }, 1);
      await ready('Tidewater Sessions/render/6.mov', onDay, 100, { kind: 'render' });
      await ready('Saltmarsh/7.mov', onDay, 1000, { project: 'Saltmarsh' });
      const { codec, width, height, frameRate } = {
        codec: null,
        width: null,
        height: null,
        frameRate: null,
        ...PRORES_UHD25,
      };
      const prores = { codec, width, height, frameRate };
      expect(await catalogue.formatHours('stripe', 'Tidewater Sessions')).toEqual([
        { day: null, hour: 500_000, ...prores, bytes: 8 },
        { day: '2027-03-04', hour: 0, ...prores, codec: 'DNxHR SQ', bytes: 5 },
        { day: '2027-03-04', hour: 0, ...prores, bytes: 30 },
      ]);
      expect(await catalogue.formatHours('shelf-a', 'Tidewater Sessions')).toEqual([]);
    });
  });

  describe(`${name}: ledger`, () => {
    const subject = fresh(make);

    test('a new ledger is sound and empty', async () => {
      const { ledger } = subject();
      expect(await ledger.condition()).toBe('sound');
      expect(await ledger.advisories()).toEqual([]);
    });

    test('keeps measurements in the order in which they were made; one of the same moment replaces the other', async () => {
      const { ledger } = subject();
      const sample = {
        ...{ volume: 'stripe', at: 2, method: 'direct' as const, readBps: 1e9, writeBps: 9e8, bytes: 8e9 },
        ...{ requestBytes: 1_048_576, idle: true, streams: [{ streams: 9, readBps: 6e8, p50Ms: 1.5, p99Ms: 30.25 }] },
      };
      const one = { build: 'four', sample };
      const earlier = { build: 'three', sample: { ...sample, at: 1, idle: false } };
      await ledger.putSpeedSample(one);
      await ledger.putSpeedSample(earlier);
      await ledger.putSpeedSample({ ...one, build: 'five' });
      expect(await ledger.speedSamples()).toEqual([earlier, { ...one, build: 'five' }]);
    });

    test('keeps shoot plans in the order in which they were kept, and drops those of a project', async () => {
      const { ledger } = subject();
      const kept = (at: number, project: string, hours = 4) => ({
        at,
        plan: {
          ...{ project, days: ['2027-03-04'], cameras: 2, format: 'DNxHR SQ', width: 1920, height: 1080, hours },
          ...{ frameRate: { num: 24_000, den: 1_001 }, volume: 'stripe' },
        },
      });
      await ledger.putPlan(kept(2, 'Saltmarsh'));
      await ledger.putPlan(kept(1, 'Lock Keepers'));
      await ledger.putPlan(kept(3, 'Saltmarsh', 9.5));
      expect(await ledger.plans()).toEqual([kept(1, 'Lock Keepers'), kept(2, 'Saltmarsh'), kept(3, 'Saltmarsh', 9.5)]);
      expect(await ledger.dropPlans('Saltmarsh')).toBe(2);
      expect(await ledger.dropPlans('Saltmarsh')).toBe(0);
      expect(await ledger.plans()).toEqual([kept(1, 'Lock Keepers')]);
    });

    test('keeps what came to each volume by the hour; an hour that is put again replaces the other', async () => {
      const { ledger } = subject();
      const hour = (at: number, ingestBytes: number) => ({ hour: at, ingestBytes, otherBytes: -5, deletedBytes: 7e12 });
      const mark = (at: number) => ({ at, usedBytes: 9e12, footageBytes: 8e12 });
      expect(await ledger.growth('stripe', 0)).toEqual({ mark: null, hours: [] });
      await ledger.putGrowth('stripe', mark(1), [hour(500_001, 1), hour(500_000, 2)]);
      await ledger.putGrowth('shelf-a', mark(2), [hour(500_000, 3)]);
      await ledger.putGrowth('stripe', mark(3), [hour(500_001, 4e12)]);
      expect(await ledger.growth('stripe', 0)).toEqual({
        mark: mark(3),
        hours: [hour(500_000, 2), hour(500_001, 4e12)],
      });
      expect((await ledger.growth('stripe', 500_001)).hours).toEqual([hour(500_001, 4e12)]);
    });

    test('keeps how volumes stood, by the minute and by the hour; what is put again replaces, and old minutes go', async () => {
      const { ledger } = subject();
      const moment = (at: number, usedBytes: number | null = 9e12): VolumeMoment => ({
        ...{ at, needBps: 4e8, needFor: 'the concert', budgetBps: 1.5e9, givenBps: null, peakBps: 0.5 },
        ...{ usedBytes, roomEndBytes: 1e13, exposedBytes: null, verifiedAt: 1_804_132_800_000 },
      });
      expect(await ledger.moments('stripe', 'minute', 0)).toEqual([]);
      await ledger.putMoments('stripe', 'minute', [moment(120_000), moment(60_000)], null);
      await ledger.putMoments('stripe', 'hour', [moment(0)], null);
      await ledger.putMoments('shelf-a', 'minute', [moment(60_000)], null);
      await ledger.putMoments('stripe', 'minute', [{ ...moment(120_000, null), needFor: null }], null);
      expect(await ledger.moments('stripe', 'minute', 0)).toEqual([
        moment(60_000),
        { ...moment(120_000, null), needFor: null },
      ]);
      expect(await ledger.moments('stripe', 'minute', 60_001)).toHaveLength(1);
      await ledger.putMoments('stripe', 'hour', [], 120_000);
      expect((await ledger.moments('stripe', 'minute', 0)).map(({ at }) => at)).toEqual([120_000]);
      expect(await ledger.moments('stripe', 'hour', 0)).toEqual([moment(0)]);
      expect(await ledger.moments('shelf-a', 'minute', 0)).toHaveLength(1);
    });

    test('what is put replaces all that was there, in its order', async () => {
      const { ledger } = subject();
      await ledger.putAdvisories([
        { id: 'b', json: '{"n":1}' },
        { id: 'a', json: '{}' },
      ]);
      expect(await ledger.advisories()).toEqual([
        { id: 'b', json: '{"n":1}' },
        { id: 'a', json: '{}' },
      ]);
      await ledger.putAdvisories([{ id: 'c', json: '{}' }]);
      expect(await ledger.advisories()).toEqual([{ id: 'c', json: '{}' }]);
    });
  });
}
