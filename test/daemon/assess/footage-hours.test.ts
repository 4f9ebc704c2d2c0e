import { expect, test } from 'vitest';
import { createFootageView } from '../../../src/daemon/assess/footage-view.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeLedger } from '../../fakes/ledger.ts';
import { fakeMulticam } from '../../fakes/multicam.ts';

const PROJECT = 'Tidewater Sessions';

test('when the footage of a project came is read again when more came, a large one after a rest', async () => {
  const clock = fakeClock(1_804_161_600_000);
  const catalogue = fakeCatalogue(fakeLedger(), clock.now);
  let asked = 0;
  let seconds = 0;
  const counting = {
    ...catalogue,
    async footageHours(volume: string, project?: string) {
      asked += 1;
      if (seconds > 0) await new Promise<void>((resolve) => clock.after(seconds * 1000, resolve));
      return catalogue.footageHours(volume, project);
    },
  };
  const log = { debug() {}, info() {}, warn() {}, error() {} };
  const multicam = fakeMulticam(catalogue);
  const view = createFootageView({
    contents: { versionsAt: async () => [] },
    ...{ catalogue: counting, multicam, clock, log, volumes: new Set(['stripe']), found: () => {} },
    ...{ copies: { projectCopies: async () => [] }, isLookedThrough: () => true },
    wanted: () => ({ wanted: { copies: 1, byVolume: {} }, readSince: 0 }),
  });
  const arrive = async (name: string) => {
    const file = someFile(`${PROJECT}/${name}`, { ctimeNs: 500_000n * 3_600_000_000_000n });
    await catalogue.finishUnit('stripe', file.unit, [file], [clipOf([file], PRORES_UHD25)]);
    view.touch('stripe', PROJECT);
  };
  const hours = async () => {
    const reading = view.read();
    if (seconds > 0) for (let step = 0; step < 6; step++) await clock.advance(500);
    return (await reading).projects[0]?.hours;
  };
  await arrive('A001.mov');
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 1000 }]);
  await arrive('A002.mov');
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 2000 }]);
  await hours();
  expect(asked).toBe(2);
  // It has become so large that reading takes three seconds: a minute of rest.
  seconds = 3;
  await arrive('A003.mov');
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 3000 }]);
  await arrive('A004.mov');
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 3000 }]);
  await clock.advance(50_000);
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 3000 }]);
  await clock.advance(5_000);
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 4000 }]);
  expect(asked).toBe(4);
  view.stop();
});
