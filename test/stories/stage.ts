import { NO_BACKUPS } from '../../src/core/backup/backup-view.ts';
import type { ProjectCopies } from '../../src/core/backup/project-copies.ts';
import { READ_PERIOD_MS } from '../../src/core/backup/wanted-copies.ts';
import type { Space } from '../../src/core/model.ts';
import type { Log } from '../../src/core/ports.ts';
import type { Snapshot } from '../../src/core/present/snapshot.ts';
import type { ProbeOutcome } from '../../src/core/root-port.ts';
import type { CataloguePort, LedgerPort } from '../../src/core/store-ports.ts';
import { type AssessFlow, createAssessFlow } from '../../src/daemon/assess/assess-flow.ts';
import { createIngestFlow, type IngestFlow } from '../../src/daemon/intake/ingest-flow.ts';
import { createStoreTrouble } from '../../src/daemon/store-trouble.ts';
import { seededDraws } from '../../src/rim/system/draws.ts';
import { settingsForFolders } from '../../src/settings/folders.ts';
import { noChannels } from '../fakes/announcer.ts';
import { fakeCatalogue } from '../fakes/catalogue.ts';
import { type FakeClock, fakeClock } from '../fakes/clock.ts';
import { fakeLedger } from '../fakes/ledger.ts';
import { fakeMulticam } from '../fakes/multicam.ts';
import { type FakeRoot, fakeRoot } from '../fakes/root.ts';

/** 2027-03-04T18:00:00Z: doors of the invented concert. */
export const DOORS = 1_804_183_200_000;
export const SECOND = 1000;
export const MINUTE = 60 * SECOND;
export const GB = 1e9;
export const TB = 1e12;

/** What outlives a daemon: the disk, the two stores, and the time. */
export interface World {
  clock: FakeClock;
  root: FakeRoot;
  catalogue: CataloguePort;
  ledger: LedgerPort;
  /** What the ledger knows of copies, by project. */
  copies: ProjectCopies[];
}

export interface Stage {
  world: World;
  /** `kind event`, as they were announced, in order. */
  announced: string[];
  /** Messages of warnings and errors. */
  warned: string[];
  snapshot(): Snapshot;
  /** The daemon is gone without a word, as after a SIGKILL. */
  kill(): void;
}

export function newWorld(space: Space): World {
  const ledger = fakeLedger();
  const root = fakeRoot();
  root.setSpace(space);
  const clock = fakeClock(DOORS);
  return { copies: [], clock, root, ledger, catalogue: fakeCatalogue(ledger, clock.now) };
}

/**
 * The daemon's flows as compose joins them, over one volume that gives 900 MB/s of which 630 may be asked for. `multicam`: projects
 * that are cut so.
 */
export async function raiseCurtain(world: World, multicam: string[] = []): Promise<Stage> {
  const settings = settingsForFolders(['/media/stripe']);
  const volume = {
    ...(settings.volumes[0] as (typeof settings.volumes)[number]),
    projects: '*',
    multicam,
    speed: { readBps: 900e6, writeBps: 700e6 },
  };
  const announced: string[] = [];
  const warned: string[] = [];
  const keep = (_fields: object, message: string) => void warned.push(message);
  const log: Log = { debug() {}, info() {}, warn: keep, error: keep };
  const trouble = createStoreTrouble(world.clock, log);
  let assess: AssessFlow | null = null;
  const flow: IngestFlow = createIngestFlow({
    volume,
    limits: settings.arrivals,
    root: world.root,
    catalogue: world.catalogue,
    trouble,
    clock: world.clock,
    log,
    ruleTold: () => {},
    touched: (project) => assess?.touch(volume.name, project),
    arrivalsChanged: () => assess?.again(),
    noticed: () => {},
    swept: () => {},
  });
  assess = createAssessFlow({
    load: { counters: () => new Map(), beingRead: async () => new Map() },
    ...{ backups: () => NO_BACKUPS, plans: () => [], planned: () => [], draws: seededDraws },
    drives: { stack: async () => null, smart: async () => null },
    contents: { versionsAt: async () => [] },
    machine: { uptime: () => null, stateRoom: async () => null },
    ...{ copies: { projectCopies: async () => world.copies }, readPeriodMs: READ_PERIOD_MS, zone: 'Europe/Rome' },
    volumes: [
      {
        settings: volume,
        fileSystem: 'ext4',
        mountOptions: [],
        mountedFrom: null,
        state: flow.state,
        complete: flow.complete,
        space: () => world.root.space(),
        arrivals: flow.arrivals,
      },
    ],
    catalogue: world.catalogue,
    multicam: fakeMulticam(world.catalogue),
    ledger: world.ledger,
    trouble,
    channels: noChannels,
    notify: { announce: (event, advisory) => void announced.push(`${advisory.kind} ${event}`) },
    clock: world.clock,
    log,
    thresholds: settings.thresholds,
    cards: () => ({ cards: [], unseen: [] }),
    context: () => ({ version: 'story', page: null, zone: 'Europe/Rome' }),
    onSnapshot: () => {},
  });
  const playing = assess;
  await playing.start();
  await flow.start();
  await world.clock.advance(2 * SECOND);
  return {
    world,
    announced,
    warned,
    snapshot: playing.current,
    kill() {
      void flow.stop();
      void playing.stop();
    },
  };
}

/** What the probe tells of a ten-minute take on one camera: 110 MB/s unless said, timecode from a common clock. */
export function take(camera: string, timecode: string, bps = 110e6): { size: number; probe: ProbeOutcome } {
  const seconds = 600;
  const size = seconds * bps;
  const stat = { path: '', size, allocated: size, mtimeNs: 0n, ctimeNs: 0n, dev: 0n, ino: 0n, nlink: 1 };
  const tracks = [
    {
      '@type': 'General',
      Format: 'MPEG-4',
      Format_Profile: 'QuickTime',
      Duration: String(seconds),
      Encoded_Date: '2027-03-04 20:15:00 UTC',
    },
    {
      '@type': 'Video',
      Format: 'ProRes',
      Format_Profile: '422 HQ',
      Width: '3840',
      Height: '2160',
      FrameRate_Mode: 'CFR',
      FrameRate_Num: '25',
      FrameRate_Den: '1',
      FrameRate: '25.000',
      FrameCount: String(seconds * 25),
      Duration: String(seconds),
      StreamSize: String(size),
    },
    { '@type': 'Other', Type: 'Time code', TimeCode_FirstFrame: timecode, Title: `${camera}001` },
  ];
  return { size, probe: { ok: true, raw: { structure: null, tracks, readerTrouble: null }, stat } };
}
