import { expect, test } from 'vitest';
import { createFootageView } from '../../../src/daemon/assess/footage-view.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeLedger } from '../../fakes/ledger.ts';
import { fakeMulticam } from '../../fakes/multicam.ts';

const PROJECT = 'Tidewater Sessions';

test('when the footage of a project came is read once, and once a minute at most while more comes', async () => {
  const clock = fakeClock(1_804_161_600_000);
  const catalogue = fakeCatalogue(fakeLedger(), clock.now);
  let asked = 0;
  const counting = {
    ...catalogue,
    footageHours(volume: string, project?: string) {
      asked += 1;
      return catalogue.footageHours(volume, project);
    },
  };
  const log = { debug() {}, info() {}, warn() {}, error() {} };
  const multicam = fakeMulticam(catalogue);
  const view = createFootageView({
    ...{ catalogue: counting, multicam, clock, log, wantedCopies: 1, volumes: new Set(['stripe']), found: () => {} },
  });
  const arrive = async (name: string) => {
    const file = someFile(`${PROJECT}/${name}`, { ctimeNs: 500_000n * 3_600_000_000_000n });
    await catalogue.finishUnit('stripe', file.unit, [file], [clipOf([file], PRORES_UHD25)]);
    view.touch('stripe', PROJECT);
  };
  const hours = async () => (await view.read()).projects[0]?.hours;
  await arrive('A001.mov');
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 1000 }]);
  await arrive('A002.mov');
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 1000 }]);
  await clock.advance(60_000);
  expect(await hours()).toEqual([{ hour: 500_000, bytes: 2000 }]);
  await clock.advance(120_000);
  await hours();
  expect(asked).toBe(2);
  view.stop();
});
