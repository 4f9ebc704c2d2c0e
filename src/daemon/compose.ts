import { fileURLToPath } from 'node:url';
import type { Log } from '../core/ports.ts';
import { pageState } from '../core/present/html/sections.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import type { ServiceHealth } from '../core/service-notice.ts';
import { SpareMemory } from '../rim/base/spare-memory.ts';
import { openStore } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import { createLog } from '../rim/system/log.ts';
import { prepareStateDir, socketPath, storeSnapshot } from '../rim/system/state-files.ts';
import { askFolder, type FolderLook } from '../rim/volume/folder-look.ts';
import { openControlDoor } from '../rim/web/doors.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { Settings, VolumeSettings } from '../settings/settings.ts';
import { createAssessFlow } from './assess/assess-flow.ts';
import { createMomentKeeper } from './assess/moment-keeper.ts';
import { createPlanBook } from './assess/plan-book.ts';
import { composeBackup, readPeriodOf } from './compose-backup.ts';
import { composeCards } from './compose-cards.ts';
import { composeMachine } from './compose-machine.ts';
import { composeMonitor } from './compose-monitor.ts';
import { composeChannels, startChannels } from './compose-notify.ts';
import { composeLive, openPage } from './compose-page.ts';
import { composeNews, composeReport } from './compose-report.ts';
import { composeSource } from './compose-source.ts';
import { composeSpeed } from './compose-speed.ts';
import { type VolumeMount, type WatchedWorld, watchVolume } from './compose-volume.ts';
import type { RuleTold } from './intake/placing.ts';
import { createLifecycle, type Lifecycle } from './lifecycle.ts';
import { createSnapshotKeeper } from './snapshot-keeper.ts';
import { createStoreTrouble } from './store-trouble.ts';

export interface DaemonOptions {
  settings: FullSettings;
  stateDir: string;
  /** Where a service manager has a folder for this run: a socket for the service's group is opened there too. */
  runtimeDir?: string | undefined;
  version: string;
  /** IANA name of the zone in which instants are shown. */
  zone: string;
  /** The speeds in the settings are made up: what really goes on is left out. */
  invented?: boolean;
  log: Log;
  /** What was taken for a project on a volume, once it is known. */
  ruleTold: (volume: VolumeSettings, told: RuleTold) => void;
}

export interface Daemon {
  /** Address of the page with its token; `null` when it is off or its port is taken. */
  page: string | null;
  /** What each volume lies on, by its name; `null` where the mount table does not tell. */
  mounts: ReadonlyMap<string, VolumeMount | null>;
  snapshot(): Snapshot;
  /** How its volumes and its loops are now. */
  health(): ServiceHealth;
  /** Ends everything in order, within 10 s whatever hangs. */
  stop(): Promise<void>;
}

const folderEntry = fileURLToPath(new URL('./compose-folder.ts', import.meta.url));

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
  const monitor = composeMonitor(settings.page.enabled && settings.page.metrics);
  lifecycle.defer('the watch over itself', monitor.close);
  const worked = (items: number) => memory.worked(items);
  const store = await openStore({ stateDir, now: systemClock.now, log, worked, mark: monitor.store });
  lifecycle.defer('the state', () => store.close());
  for (const notice of store.notices) log.warn({ notice: notice.code }, notice.message);

  const { catalogue, ledger } = store;
  const book = createPlanBook(settings.plans, ledger, systemClock);
  await book.load();

  const notify = await startChannels(
    channels,
    { queue: store.messages, log, zone: options.zone, markOf: monitor.channel },
    lifecycle,
  );
  let page: string | null = null;
  const trouble = createStoreTrouble(systemClock, log);
  const world: WatchedWorld = {
    ...{ catalogue, trouble, monitor, touch, arrivalsChanged: () => assess.again() },
    noticed: (volume, files) => cards.flow.noticed(volume, files),
    swept: (volume) => cards.flow.swept(volume),
  };
  const watched = await Promise.all(settings.volumes.map((volume) => watchVolume(volume, world, options)));
  const keeper = createSnapshotKeeper(systemClock, log, (json) => storeSnapshot(stateDir, json));
  lifecycle.defer('the last snapshot', keeper.flush);
  const moments = createMomentKeeper(ledger, trouble.refused);
  lifecycle.defer('the last minute', moments.flush);
  const live = composeLive(() => pageState(assess.current(), [report.latest()]));
  const cards = composeCards({
    settings,
    store,
    trouble,
    log,
    volumes: () => watched.map(({ card }) => card),
    assessment: () => assess.assessment(),
    changed: () => assess.again(),
    looked: monitor.cardsLooked.moved,
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
      marks: { asked: monitor.backupsAsked.moved, looked: monitor.shelvesLooked.moved },
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
    ...monitor.speed(
      composeSpeed(options, book, {
        volumes: () => watched.map(({ source, root }) => ({ settings: source.settings, root })),
        assessment: () => assess.assessment(),
      }),
    ),
    trouble,
    notify: composeNews(store, log),
    channels: notify,
    clock: systemClock,
    log,
    thresholds: settings.thresholds,
    cards: () => cards.flow.current(),
    backups: () => backup.view(),
    context: () => ({ version: options.version, page, zone: options.zone }),
    onSnapshot: monitor.assessed((current: () => Snapshot) => {
      keeper.note(current);
      moments.note(assess.assessment());
      live.noted();
    }),
  });
  function touch(volume: string, project: string | null): void {
    assess.touch(volume, project);
    cards.flow.touched();
  }

  const report = composeReport(options, { store, assess, cards: cards.flow, channels: notify, made: live.noted });
  const source = composeSource({
    ...{ options, catalogue, ledger, assess, cards: cards.flow, book, backup, report, monitor, watched },
  });
  const control = await openControlDoor(socketPath(stateDir), source, 0o600);
  lifecycle.defer('the control socket', control.close);
  if (options.runtimeDir !== undefined) {
    const shared = await openControlDoor(socketPath(options.runtimeDir), source, 0o660);
    lifecycle.defer('the control socket of the group', shared.close);
  }
  page = await openPage(source, live, options, lifecycle);

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
  await report.start(lifecycle);
  return {
    page,
    mounts: new Map(watched.map(({ source: { settings: mine }, mount }) => [mine.name, mount])),
    snapshot: assess.current,
    health: () => ({
      loops: monitor.loops(),
      volumes: watched.map(({ source: { settings: mine, state } }) => ({ name: mine.name, state: state().state })),
    }),
    stop: lifecycle.unwind,
  };
}
