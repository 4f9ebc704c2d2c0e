import { expect, test } from 'vitest';
import { noCopies, type ProjectCopies } from '../../../src/core/backup/project-copies.ts';
import { createFootageView } from '../../../src/daemon/assess/footage-view.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeMulticam } from '../../fakes/multicam.ts';

const PLACE = { volume: 'stripe', area: 'project' } as const;
const ONLY: ProjectCopies['onlyOnShelf'] = {
  ...{ files: 3, bytes: 900, footageBytes: 900, fewest: 1, oldestReadAt: 5 },
  shelves: [{ name: 'shelf-a', files: 3, bytes: 900 }],
};
const log = { debug() {}, info() {}, warn() {}, error() {} };

async function stage(copies: ProjectCopies[] | null) {
  const catalogue = fakeCatalogue();
  const render = someFile('Saltmarsh/Renders/reel.mov', { project: 'Saltmarsh', kind: 'render', size: 300 });
  const [clip] = [clipOf([render], PRORES_UHD25, { kind: 'render' })];
  await catalogue.finishUnit('stripe', render.unit, [render], [clip]);
  const world = { isLookedThrough: false };
  const view = createFootageView({
    contents: { versionsAt: async () => [] },
    ...{ catalogue, multicam: fakeMulticam(catalogue), clock: fakeClock(0), log, volumes: new Set(['stripe']) },
    ...{ found: () => {}, copies: { projectCopies: async () => copies }, isLookedThrough: () => world.isLookedThrough },
    wanted: () => ({ wanted: { copies: 2, byVolume: {} }, readSince: 0 }),
  });
  const told = async () => {
    view.touchCopies();
    return (await view.read()).projects.map(({ sum, copies: mine }) => [
      ...[sum.project, sum.exposed?.bytes ?? null, mine?.onlyOnShelf?.files ?? null],
    ]);
  };
  return { world, told };
}

test('a project of which only copies are left is one as soon as its volume was looked through', async () => {
  const gone = { ...noCopies({ ...PLACE, project: 'Lock Keepers' }), onlyOnShelf: ONLY };
  const elsewhere = { ...gone, volume: 'another' };
  const { world, told } = await stage([noCopies({ ...PLACE, project: 'Saltmarsh' }), gone, elsewhere]);
  expect(await told()).toEqual([['Saltmarsh', 0, null]]);
  world.isLookedThrough = true;
  expect(await told()).toEqual([
    ['Saltmarsh', 0, null],
    ['Lock Keepers', 0, 3],
  ]);
});

test('of renders without a known source those count as exposed that lack their copies, all where none are known', async () => {
  const lacking = { clips: 1, bytes: 200, durationSeconds: 10 };
  const some = noCopies({ ...PLACE, project: 'Saltmarsh' });
  const { told } = await stage([{ ...some, madeLacking: { all: lacking, unsourced: lacking } }]);
  expect(await told()).toEqual([['Saltmarsh', 200, null]]);
  expect(await (await stage(null)).told()).toEqual([['Saltmarsh', 300, null]]);
});
