import { NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import { READ_PERIOD_MS } from '../../../src/core/backup/wanted-copies.ts';
import type { Arrival, Space } from '../../../src/core/model.ts';
import { createAssessFlow } from '../../../src/daemon/assess/assess-flow.ts';
import { createStoreTrouble } from '../../../src/daemon/store-trouble.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { noChannels } from '../../fakes/announcer.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { type FakeClock, fakeClock } from '../../fakes/clock.ts';
import { type FakeLedger, fakeLedger } from '../../fakes/ledger.ts';
import { fakeMulticam } from '../../fakes/multicam.ts';

const log = { debug() {}, info() {}, warn() {}, error() {} };
const EMPTY: Space = { totalBytes: 8e12, freeBytes: 7e12, availableBytes: 7e12 };
/** Below the reserve: a warning. `FULL` is critical. */
export const SHORT: Space = { totalBytes: 8e12, freeBytes: 3e11, availableBytes: 3e11 };
export const FULL: Space = { totalBytes: 8e12, freeBytes: 1e11, availableBytes: 1e11 };

/** What outlives a daemon. */
export interface Outside {
  clock: FakeClock;
  ledger: FakeLedger;
  room: Space;
}

export function outside(): Outside {
  return { clock: fakeClock(1_804_183_200_000), ledger: fakeLedger(), room: EMPTY };
}

/** The assessment of one volume that is live, whose room and arrivals are set by hand. */
export async function stage({ clock, ledger, room }: Outside = outside(), isStarted = true) {
  const settings = settingsForFolders(['/media/stripe']);
  const [volume] = settings.volumes;
  if (volume === undefined) throw new Error('there is one');
  const world = { room, arrivals: [] as Arrival[], asked: 0, read: 0, noted: 0, made: 0 };
  const announced: string[] = [];
  const withdrawn: string[][] = [];
  const catalogue = fakeCatalogue();
  const flow = createAssessFlow({
    load: { counters: () => new Map(), beingRead: async () => new Map() },
    ...{ backups: () => NO_BACKUPS, plans: () => [], planned: () => [], draws: seededDraws },
    drives: { stack: async () => null, smart: async () => null },
    contents: { versionsAt: async () => [] },
    machine: { uptime: () => null, stateRoom: async () => null },
    ...{ copies: { projectCopies: async () => [] }, readPeriodMs: READ_PERIOD_MS, zone: 'UTC' },
    volumes: [
      {
        settings: volume,
        fileSystem: 'ext4',
        mountOptions: [],
        mountedFrom: null,
        state: () => ({ state: 'live', detail: null }),
        complete: () => true,
        async space() {
          world.asked += 1;
          return world.room;
        },
        arrivals: () => ({ lines: world.arrivals, pending: 12_345, bytes: 5 }),
      },
    ],
    catalogue: {
      ...catalogue,
      projects(wanted) {
        world.read += 1;
        return catalogue.projects(wanted);
      },
    },
    multicam: fakeMulticam(catalogue),
    ledger,
    trouble: createStoreTrouble(clock, log),
    channels: { ...noChannels, withdraw: async (ids) => void withdrawn.push([...ids]) },
    notify: { announce: (event, { kind }) => void announced.push(`${kind} ${event}`) },
    clock,
    log,
    thresholds: settings.thresholds,
    cards: () => ({ cards: [], unseen: [] }),
    context: () => {
      world.made += 1;
      return { version: 'x', page: null, zone: 'UTC' };
    },
    onSnapshot: () => {
      world.noted += 1;
    },
  });
  if (isStarted) await flow.start();
  await clock.advance(0);
  return { announced, clock, flow, withdrawn, world };
}
