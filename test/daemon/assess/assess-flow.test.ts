import { describe, expect, test } from 'vitest';
import { NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import { READ_PERIOD_MS } from '../../../src/core/backup/wanted-copies.ts';
import type { Arrival, Space } from '../../../src/core/model.ts';
import { createAssessFlow } from '../../../src/daemon/assess/assess-flow.ts';
import { createStoreTrouble } from '../../../src/daemon/store-trouble.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';
import { sampleArrival } from '../../core/samples.ts';
import { noChannels } from '../../fakes/announcer.ts';
import { fakeCatalogue } from '../../fakes/catalogue.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeLedger } from '../../fakes/ledger.ts';
import { fakeMulticam } from '../../fakes/multicam.ts';

const SECOND = 1000;
const MINUTE = 60 * SECOND;
const log = { debug() {}, info() {}, warn() {}, error() {} };
const EMPTY: Space = { totalBytes: 8e12, freeBytes: 7e12, availableBytes: 7e12 };
const FULL: Space = { totalBytes: 8e12, freeBytes: 1e11, availableBytes: 1e11 };

/** The assessment of one volume that is live, whose room and arrivals are set by hand. */
async function stage() {
  const clock = fakeClock(1_804_183_200_000);
  const settings = settingsForFolders(['/media/stripe']);
  const [volume] = settings.volumes;
  if (volume === undefined) throw new Error('there is one');
  const world = { room: EMPTY, arrivals: [] as Arrival[], asked: 0, read: 0, noted: 0, made: 0 };
  const announced: string[] = [];
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
    ledger: fakeLedger(),
    trouble: createStoreTrouble(clock, log),
    channels: noChannels,
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
  await flow.start();
  await clock.advance(0);
  return { announced, clock, flow, world };
}

describe('the assessment', () => {
  test('while nothing happens it looks every half minute, and no snapshot is made that nobody asks for', async () => {
    const { clock, flow, world } = await stage();
    const before = { ...world };
    await clock.advance(10 * MINUTE);
    expect(world.asked - before.asked).toBe(20);
    expect(world.read - before.read).toBe(20);
    expect(world.made).toBe(before.made);
    expect(flow.current().arrivalTotals).toEqual({ pending: 12_345, bytes: 5 });
    flow.current();
    expect(world.made).toBeLessThanOrEqual(before.made + 2);
  });

  test('while something arrives it looks every five seconds; the sums are read when something changed', async () => {
    const { clock, flow, world } = await stage();
    world.arrivals = [sampleArrival({ stage: 'copying' })];
    flow.touch('stripe', null);
    await clock.advance(SECOND);
    const before = { ...world };
    await clock.advance(MINUTE);
    expect(world.asked - before.asked).toBe(12);
    expect(world.read - before.read).toBeLessThanOrEqual(2);
    flow.touch('stripe', null);
    await clock.advance(251);
    expect(world.noted).toBeGreaterThan(before.noted + 12);
  });

  test('what has halted needs no looks of its own', async () => {
    const { clock, flow, world } = await stage();
    world.arrivals = [sampleArrival({ stage: 'refused' }), sampleArrival({ stage: 'stalled', unit: 'other' })];
    flow.touch('stripe', null);
    await clock.advance(SECOND);
    const before = world.asked;
    await clock.advance(5 * MINUTE);
    expect(world.asked - before).toBe(10);
  });

  test('a hold time ends when it ends, not at the next look', async () => {
    const { announced, clock, world } = await stage();
    world.room = FULL;
    await clock.advance(30 * SECOND);
    expect(announced).toEqual([]);
    await clock.advance(20.5 * SECOND);
    expect(announced).toEqual(['capacity-reserve first']);
  });
});
