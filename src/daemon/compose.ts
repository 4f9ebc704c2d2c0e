import * as nodeFs from 'node:fs';
import { fileURLToPath } from 'node:url';
import { messageOf } from '../core/fault.ts';
import type { FileStat } from '../core/model.ts';
import type { Log } from '../core/ports.ts';
import { display } from '../core/present/escape.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import type { CataloguePort } from '../core/store-ports.ts';
import { formatCount } from '../core/units.ts';
import { SpareMemory } from '../rim/base/spare-memory.ts';
import { logNotify } from '../rim/notify/log-notify.ts';
import { openStore } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import { createLog } from '../rim/system/log.ts';
import { pageToken, prepareStateDir, socketPath, storeSnapshot } from '../rim/system/state-files.ts';
import { askFolder, type FolderLook } from '../rim/volume/folder-look.ts';
import { mountOf } from '../rim/volume/mount.ts';
import { decodeKnownMount, encodeKnownMount } from '../rim/watch/drive.ts';
import { type RemoteRoot, remoteRoot } from '../rim/watch/remote-root.ts';
import { openControlDoor, openPageDoor } from '../rim/web/doors.ts';
import type { ControlSource } from '../rim/web/routes.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { Settings, VolumeSettings } from '../settings/settings.ts';
import { createAssessFlow } from './assess/assess-flow.ts';
import { createPlanBook } from './assess/plan-book.ts';
import type { VolumeSource } from './assess/volume-source.ts';
import type { CardVolume } from './cards/card-flow.ts';
import { composeBackup, readPeriodOf } from './compose-backup.ts';
import { composeCards } from './compose-cards.ts';
import { composeMachine } from './compose-machine.ts';
import { composeChannels, startChannels } from './compose-notify.ts';
import { composeSource } from './compose-source.ts';
import { composeSpeed } from './compose-speed.ts';
import { createIngestFlow, type IngestFlow } from './intake/ingest-flow.ts';
import type { RuleTold } from './intake/placing.ts';
import { createLifecycle, type Lifecycle } from './lifecycle.ts';
import { createSnapshotKeeper } from './snapshot-keeper.ts';
import { createStoreTrouble, type StoreTrouble } from './store-trouble.ts';

export interface DaemonOptions {
  settings: FullSettings;
  stateDir: string;
  version: string;
  /** IANA name of the zone in which instants are shown. */
  zone: string;
  /** The speeds in the settings are made up: what really goes on is left out. */
  invented?: boolean;
  log: Log;
  /** What was taken for a project on a volume, once it is known. */
  ruleTold: (volume: VolumeSettings, told: RuleTold) => void;
}

export interface VolumeMount {
  mountPoint: string;
  fileSystem: string;
  source: string;
}

export interface Daemon {
  /** Address of the page with its token; `null` when it is off or its port is taken. */
  page: string | null;
  /** What each volume lies on, by its name; `null` where the mount table does not tell. */
  mounts: ReadonlyMap<string, VolumeMount | null>;
  snapshot(): Snapshot;
  /** Ends everything in order, within 10 s whatever hangs. */
  stop(): Promise<void>;
}

const folderEntry = fileURLToPath(new URL('./compose-folder.ts', import.meta.url));
const rootEntry = fileURLToPath(new URL('./compose-root.ts', import.meta.url));

/** The log of a daemon on this process's standard error. */
export function composeLog(level: Settings['log']['level'], terminal: boolean, colour: boolean): Log {
  return createLog(level, terminal, colour);
}

/** A mount that hangs must not hold up the start; the process of its root finds that out later. */
const lookMs = 3_000;

/** So long without much to do is rest. */
const restMs = 5_000;

/** Where a folder named by hand is; one on a mount that hangs is taken as it was named. Never rejects. */
export const lookAtFolder = (path: string): Promise<FolderLook> => askFolder(folderEntry, path, lookMs);

/**
 * Starts the whole daemon in this process: the only place that knows every port and its adapter. Touches no signals.
 * @throws Fault `state-locked`, `state-unwritable`, `state-full`, `state-newer`; what was started by then is stopped
 */
export async function startDaemon(options: DaemonOptions): Promise<Daemon> {
  const lifecycle = createLifecycle(systemClock, options.log);
  try {
    return await start(options, lifecycle);
  } catch (error) {
    await lifecycle.unwind();
    throw error;
  }
}

async function start(options: DaemonOptions, lifecycle: Lifecycle): Promise<Daemon> {
  const { log, settings, stateDir } = options;
  const channels = composeChannels(settings.notify, options.zone, process.env);
  prepareStateDir(stateDir);
  const memory = new SpareMemory(restMs);
  lifecycle.defer('the memory', () => memory.close());
  const store = await openStore({ stateDir, now: systemClock.now, log, worked: (items) => memory.worked(items) });
  lifecycle.defer('the state', () => store.close());
  for (const notice of store.notices) log.warn({ notice: notice.code }, notice.message);

  const { catalogue, ledger } = store;
  const book = createPlanBook(settings.plans, ledger, systemClock);
  await book.load();

  const notify = await startChannels(channels, { queue: store.messages, log, zone: options.zone }, lifecycle);
  let page: string | null = null;
  const trouble = createStoreTrouble(systemClock, log);
  const world = { catalogue, trouble, touch, arrivalsChanged: () => assess.again(), noticed, swept };
  const watched = await Promise.all(settings.volumes.map((volume) => watchVolume(volume, world, options)));
  const keeper = createSnapshotKeeper(systemClock, log, (json) => storeSnapshot(stateDir, json));
  lifecycle.defer('the last snapshot', keeper.flush);
  const cards = composeCards({
    settings,
    store,
    trouble,
    log,
    volumes: () => watched.map(({ card }) => card),
    assessment: () => assess.assessment(),
    changed: () => assess.again(),
  });
  const backup = composeBackup({
    ...{
      settings,
      version: options.version,
      stateDir,
      zone: options.zone,
      store,
      log,
      assessment: () => assess.assessment(),
    },
    changed(copies) {
      if (!copies) return assess.again();
      cards.flow.copiesChanged();
      assess.copiesChanged();
    },
  });
  const assess = createAssessFlow({
    volumes: watched.map(({ source }) => source),
    ...{ catalogue, ledger, multicam: store.multicam, copies: store.backups, machine: composeMachine(stateDir) },
    ...{ contents: store.cards, readPeriodMs: readPeriodOf(settings), zone: options.zone },
    ...composeSpeed(options, book, {
      volumes: () => watched.map(({ source, root }) => ({ settings: source.settings, root })),
      assessment: () => assess.assessment(),
    }),
    trouble,
    notify: logNotify(log),
    channels: notify,
    clock: systemClock,
    log,
    thresholds: settings.thresholds,
    cards: () => cards.flow.current(),
    backups: () => backup.view(),
    context: () => ({ version: options.version, page, zone: options.zone }),
    onSnapshot: keeper.note,
  });
  function touch(volume: string, project: string | null): void {
    assess.touch(volume, project);
    cards.flow.touched();
  }
  function noticed(volume: string, files: readonly FileStat[]): void {
    cards.flow.noticed(volume, files);
  }
  function swept(volume: string): void {
    cards.flow.swept(volume);
  }

  const source = composeSource({ options, catalogue, assess, cards: cards.flow, book, backup });
  const control = await openControlDoor(socketPath(stateDir), source);
  lifecycle.defer('the control socket', control.close);
  page = await openPage(source, options, lifecycle);

  // Before anything is judged: what was told of a card must not be taken back for not being known yet.
  lifecycle.defer('the assessment', async () => void (await Promise.all([assess.stop(), cards.stop()])));
  await cards.flow.start();
  await backup.load();
  await assess.start();
  // Together: a root that hangs takes its time, and several must not take it one after the other.
  lifecycle.defer('the volumes', async () => void (await Promise.all(watched.map(({ flow }) => flow.stop()))), 2_500);
  for (const { flow } of watched) await flow.start();
  cards.watch();
  lifecycle.defer('the backups', backup.stop, 8_000);
  await backup.start();
  return {
    page,
    mounts: new Map(watched.map(({ source: { settings: mine }, mount }) => [mine.name, mount])),
    snapshot: assess.current,
    stop: lifecycle.unwind,
  };
}

interface WatchedWorld {
  catalogue: CataloguePort;
  trouble: StoreTrouble;
  touch: (volume: string, project: string | null) => void;
  arrivalsChanged: () => void;
  noticed: (volume: string, files: readonly FileStat[]) => void;
  swept: (volume: string) => void;
}

interface Watched {
  source: VolumeSource;
  root: RemoteRoot;
  flow: IngestFlow;
  card: CardVolume;
  mount: VolumeMount | null;
}

/**
 * A volume with its own process and flow. Where it was mounted last, and which drive that was, is remembered: neither
 * an empty mount point nor another drive is the volume.
 */
async function watchVolume(
  volume: VolumeSettings,
  { catalogue, trouble, touch, arrivalsChanged, noticed, swept }: WatchedWorld,
  { log, ruleTold, settings }: DaemonOptions,
): Promise<Watched> {
  const key = `mount:${volume.name}:${volume.path}`;
  const root = remoteRoot({
    root: volume.path,
    settings: { sweepEvery: settings.arrivals.sweepEvery, fullSweepEvery: settings.arrivals.fullSweepEvery },
    scope: { ingest: volume.ingest, ignore: volume.ignore },
    entry: rootEntry,
    clock: systemClock,
    log,
    known: decodeKnownMount(await catalogue.recall(key)),
    onMounted: (known) => {
      if (known.mountPoint !== null)
        catalogue
          .remember(key, encodeKnownMount(known))
          .catch((error) => log.debug({ error: messageOf(error) }, 'mount point not kept'));
    },
  });
  const flow = createIngestFlow({
    volume,
    limits: settings.arrivals,
    root,
    catalogue,
    trouble,
    clock: systemClock,
    log,
    ruleTold: (told) => ruleTold(volume, told),
    touched: (project) => touch(volume.name, project),
    arrivalsChanged,
    noticed: (files) => noticed(volume.name, files),
    swept: ({ files, folders, seconds }) => {
      swept(volume.name);
      log.info(
        { event: 'swept', volume: volume.name, files, folders, seconds },
        `${display(volume.name)}: ${formatCount(files, 'file')} in ${formatCount(folders, 'folder')} were found.`,
      );
    },
  });
  const mount = mountOf(nodeFs, volume.path);
  const source: VolumeSource = {
    settings: volume,
    fileSystem: mount?.fileSystem ?? null,
    mountOptions: mount?.options ?? [],
    state: flow.state,
    complete: flow.complete,
    space: () => root.space(),
    arrivals: flow.arrivals,
  };
  const card = {
    ...{ name: volume.name, path: volume.path },
    root,
    complete: flow.complete,
    live: () => flow.state().state === 'live',
    starting: () => flow.state().state === 'starting',
  };
  return { source, root, flow, card, mount };
}

/** A port that is taken costs the page, nothing else. */
async function openPage(
  source: ControlSource,
  { log, settings, stateDir }: DaemonOptions,
  lifecycle: Lifecycle,
): Promise<string | null> {
  if (!settings.page.enabled) return null;
  try {
    const token = pageToken(stateDir);
    const door = await openPageDoor(settings.page.port, token, source);
    lifecycle.defer('the status page', door.close);
    return `${door.address}?token=${token}`;
  } catch (error) {
    log.warn({ error: messageOf(error) }, messageOf(error));
    return null;
  }
}
