import type { Clip } from '../../../src/core/model.ts';
import type { Log } from '../../../src/core/ports.ts';
import type { CataloguePort } from '../../../src/core/store-ports.ts';
import { createIngestFlow } from '../../../src/daemon/intake/ingest-flow.ts';
import { createStoreTrouble } from '../../../src/daemon/store-trouble.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { type FakeClock, fakeClock } from '../../fakes/clock.ts';
import { fakeLedger } from '../../fakes/ledger.ts';
import { type FakeRoot, fakeRoot } from '../../fakes/root.ts';

export const SECOND = 1000;
const NOW = 1_804_183_200_000;
export const GB = 1e9;

export interface World {
  clock: FakeClock;
  root: FakeRoot;
  catalogue: CataloguePort;
}

export function newWorld(): World {
  const clock = fakeClock(NOW);
  return { clock, root: fakeRoot(), catalogue: fakeCatalogue(fakeLedger(), clock.now) };
}

/** The ingest flow of one volume, and what it logged at level info and above: `event message`. */
export async function start(world: World) {
  const settings = settingsForFolders(['/media/stripe']);
  const volume = { ...(settings.volumes[0] as (typeof settings.volumes)[number]), projects: '*' };
  const told: string[] = [];
  const keep = (fields: object, message: string) =>
    void told.push(`${'event' in fields ? fields.event : ''} ${message}`.trim());
  const log: Log = { debug() {}, info: keep, warn: keep, error: keep };
  const flow = createIngestFlow({
    volume,
    limits: settings.arrivals,
    root: world.root,
    catalogue: world.catalogue,
    trouble: createStoreTrouble(world.clock, log),
    clock: world.clock,
    log,
    ruleTold: () => {},
    touched: () => {},
    arrivalsChanged: () => {},
    noticed: () => {},
    swept: () => {},
  });
  await flow.start();
  await world.clock.advance(5 * SECOND);
  const of = (event: string) =>
    told.filter((line) => line.startsWith(`${event} `)).map((line) => line.slice(event.length + 1));
  return { flow, told, of };
}

export const bytesOf = async ({ catalogue }: World) =>
  Object.fromEntries((await catalogue.projects(1)).map(({ area, project, bytes }) => [project ?? area, bytes]));

export const clipsOf = async ({ catalogue }: World): Promise<Clip[]> =>
  (await catalogue.clips({})).toSorted((a, b) => ((a.paths[0] ?? '') < (b.paths[0] ?? '') ? -1 : 1));

export const pathsOf = async (world: World) => (await clipsOf(world)).map(({ paths }) => paths.join(' + '));

/** A clip of one gigabyte, settled and read. */
export async function settled(world: World, ...paths: string[]): Promise<void> {
  for (const path of paths) world.root.put(path, { size: GB });
  await world.clock.advance(10 * SECOND);
}
