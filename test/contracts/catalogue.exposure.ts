import { describe, expect, test } from 'vitest';
import type { FileRecord } from '../../src/core/model.ts';
import { fresh, type Subject } from './catalogue.contract.ts';
import { clipOf, PRORES_UHD25, someFile } from './catalogue.material.ts';

const A1 = someFile('Tidewater Sessions/A/A001.mov');
const A2 = someFile('Tidewater Sessions/A/A002.mov', { size: 2000 });

/** What is exposed while there are no copies, in the real store and in the fake. */
export function exposureContract(name: string, make: () => Promise<Subject>): void {
  describe(`${name}: exposure without copies`, () => {
    const subject = fresh(make);
    const exposed = async () => (await subject().catalogue.projects(1))[0]?.exposed;

    test('is of all footage, clip or not: stills, what arrives, what was refused; not of proxies, nor in the trash', async () => {
      const { catalogue } = subject();
      const of = (path: string, changes: Partial<FileRecord>) => someFile(`Tidewater Sessions/${path}`, changes);
      await catalogue.putFiles([
        of('1.jpg', { kind: 'still', size: 1 }),
        of('2.mov', { size: 20, state: 'arriving' }),
        of('3.mov', { size: 300, state: 'refused' }),
        of('4.wav', { kind: 'sound', size: 4000 }),
        of('5.mp4', { kind: 'proxy', size: 50_000 }),
        of('6.xml', { kind: 'sidecar', size: 50_000 }),
        of('7.mov', { area: 'trash', size: 50_000 }),
      ]);
      const trashed = of('8.mov', { area: 'trash', project: null });
      await catalogue.finishUnit('stripe', trashed.unit, [trashed], [clipOf([trashed], PRORES_UHD25)]);
      expect(await exposed()).toEqual({ bytes: 4321, clips: 0, durationSeconds: 0, since: 0 });
      const trash = (await catalogue.projects(1)).find(({ area, project }) => area === 'trash' && project === null);
      expect(trash).toMatchObject({ bytes: 1000, footageBytes: 1000, clips: 1 });
      expect(trash?.exposed).toEqual({ bytes: 0, clips: 0, durationSeconds: 0, since: null });
    });

    test('clips, hours and formats are of footage: a proxy and a render of a take add to none of them', async () => {
      const { catalogue } = subject();
      const made = [A1, { ...A2, kind: 'proxy' as const }, someFile('Tidewater Sessions/r.mov', { kind: 'render' })];
      for (const file of made) await catalogue.finishUnit('stripe', file.unit, [file], [clipOf([file], PRORES_UHD25)]);
      const [sum] = await catalogue.projects(1);
      expect(sum).toMatchObject({ clips: 1, durationSeconds: 10, formats: [{ clips: 1, durationSeconds: 10 }] });
      expect(sum?.exposed).toMatchObject({ bytes: 1000, clips: 1, durationSeconds: 10 });
    });

    test('counts the bytes of hard links once, the clips by name', async () => {
      const { catalogue } = subject();
      const names = ['1.mov', 'copy.mov'].map((path) => someFile(`Saltmarsh/${path}`, { nlink: 2, ino: 77n }));
      for (const file of names) await catalogue.finishUnit('stripe', file.unit, [file], [clipOf([file], PRORES_UHD25)]);
      expect((await catalogue.projects(1))[0]).toMatchObject({
        bytes: 1000,
        footageBytes: 1000,
        clips: 2,
        formats: [{ clips: 2, bytes: 2000 }],
        exposed: { bytes: 1000, clips: 2 },
      });
    });

    test('a second name in the trash, or one that is no footage, takes no bytes out of it', async () => {
      const { catalogue } = subject();
      const trashed = someFile('.Trash-1000/1.mov', { area: 'trash', project: null, nlink: 3, ino: 77n });
      const cached = someFile('Caches/1.mov', { area: 'shared', project: null, kind: 'cache', nlink: 3, ino: 77n });
      const kept = someFile('Saltmarsh/1.mov', { nlink: 3, ino: 77n });
      await catalogue.putFiles([kept, trashed, cached]);
      expect(await exposed()).toMatchObject({ bytes: 1000 });
      await catalogue.putFiles([{ ...kept, area: 'trash' }]);
      const bytes = (await catalogue.projects(1)).map((sum) => [sum.area, sum.bytes, sum.exposed?.bytes]);
      expect(bytes).toEqual([
        ['shared', 0, 0],
        ['trash', 1000, 0],
        ['trash', 0, 0],
      ]);
    });

    test('is since the first sighting, kept when the file changes or is renamed, whichever name is told of first', async () => {
      const { catalogue, clock } = subject();
      clock.now = 100;
      await catalogue.putFiles([{ ...A1, state: 'arriving' }]);
      clock.now = 200;
      await catalogue.finishUnit('stripe', A1.unit, [A1], [clipOf([A1], {}, { readyAt: 200 })]);
      await catalogue.putFiles([{ ...A1, size: 5000 }, A2]);
      expect(await exposed()).toMatchObject({ since: 100 });
      clock.now = 300;
      const renamed = { ...A1, size: 5000, path: 'Tidewater Sessions/A/renamed.mov' };
      await catalogue.putFiles([renamed]);
      await catalogue.forget('stripe', [A1.path]);
      expect(await exposed()).toMatchObject({ since: 100 });
      await catalogue.forget('stripe', [renamed.path]);
      expect(await exposed()).toMatchObject({ since: 200 });
      clock.now += 3_600_000;
      await catalogue.putFiles([{ ...renamed, path: 'Tidewater Sessions/B/again.mov' }]);
      expect(await exposed()).toMatchObject({ since: 100 });
    });

    test('what comes back after days, or is another content, is seen anew; so is a file without content never', async () => {
      const { catalogue, clock } = subject();
      await catalogue.putFiles([A1]);
      await catalogue.forget('stripe', ['']);
      clock.now = 100;
      await catalogue.putFiles([someFile('Tidewater Sessions/empty.mov', { size: 0 })]);
      expect(await exposed()).toMatchObject({ bytes: 0, since: null });
      clock.now = 200;
      await catalogue.putFiles([{ ...A2, ino: A1.ino }]);
      expect(await exposed()).toMatchObject({ since: 200 });
      await catalogue.forget('stripe', ['']);
      clock.now = 3 * 24 * 3_600_000;
      await catalogue.putFiles([A1]);
      expect(await exposed()).toMatchObject({ since: clock.now });
    });
  });
}
