import { randomUUID } from 'node:crypto';
import { fileURLToPath } from 'node:url';
import type { Assessment } from '../core/assess/assessment.ts';
import { paceOn } from '../core/backup/pace.ts';
import type { ShelfPort } from '../core/backup/shelf-port.ts';
import { READ_PERIOD_MS } from '../core/backup/wanted-copies.ts';
import { messageOf } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';
import { createCopyPort } from '../rim/backup/copy-port.ts';
import { createShelfPort } from '../rim/shelf/shelf-port.ts';
import type { Store } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import { nightlyTimer } from '../rim/system/nightly.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { type BackupFlow, type BackupPair, createBackupFlow } from './backup/backup-flow.ts';
import { createDueWatch, type DueWatch } from './backup/due-watch.ts';
import { createLane } from './backup/lane.ts';
import { watchProjectFiles } from './backup/project-watch.ts';
import { createShelfWatch } from './backup/shelf-watch.ts';
import { createVerifyFlow, type VerifyFlow } from './backup/verify-flow.ts';
import { createVolumeWatch } from './backup/volume-watch.ts';
import { asBackup, beginAnywhere, composeCommands } from './compose-commands.ts';
import { createRunNotes } from './notify/report-desk.ts';

const shelfEntry = fileURLToPath(new URL('./compose-shelf.ts', import.meta.url));

export interface BackupParts {
  settings: FullSettings;
  version: string;
  stateDir: string;
  /** Whose clocks nightly backups go by. */
  zone: string;
  store: Store;
  log: Log;
  assessment: () => Assessment;
  changed: (copies: boolean) => void;
  /** Touched when it was asked once more whether one is due, and when a shelf was looked at. */
  marks: { asked: () => void; looked: () => void };
}

/** Backups, and what else is done with copies. */
export interface BackupDesk extends BackupFlow {
  verify: VerifyFlow;
  successes: DueWatch['successes'];
}

/** The backups of the configuration, with everything that they touch. */
export function composeBackup(parts: BackupParts): BackupDesk {
  const { settings, version, zone, stateDir, store, log, assessment, changed, marks } = parts;
  const failed = (error: unknown): void =>
    log.error({ error: messageOf(error) }, 'Whether a backup is due could not be read or kept.');
  const known = { store: store.backups, clock: systemClock, assessment };
  const noteRun = createRunNotes({ history: store.history, clock: systemClock, log });
  const shared = {
    pace: (volume: string) => paceOn(assessment(), volume),
    ...{ pairs: pairsOf(settings), store: store.backups, log, clock: systemClock, newId: randomUUID, version },
    ...{ copies: createCopyPort({ clock: systemClock }), lane: createLane() },
    shelves: watchedShelves(createShelfPort(shelfEntry), marks.looked),
  };
  const commands = composeCommands({
    ...{ ...shared, settings, zone, stateDir, reported: store.reported },
    changed: () => changed(false),
    refresh: () => flow.refresh(),
    isLive: (name) => assessment().volumes.some((volume) => volume.name === name && volume.state === 'live'),
    async ended(run) {
      await noteRun({ kind: 'command', run });
      await due.ended(asBackup(run));
    },
  });
  const verify = createVerifyFlow({ ...shared, changed: () => changed(false), refresh: () => flow.refresh() });
  const flow = createBackupFlow({
    ...{ ...shared, changed },
    beside: () => ({ outlooks: due.outlooks(), verifications: verify.view(), commands: commands.flow.view() }),
    sums: store.cards,
    shelfChanged: () => void due.again(),
    async ended(run) {
      await noteRun({ kind: 'backup', run });
      await shelves.ended(run).catch(failed);
      // Of a part of it no night is made up for.
      if (run.cause === 'project-files') await due.again();
      else await due.ended(run);
    },
  });
  const shelfPlans = settings.backups
    .filter(({ to }) => to.length > 0)
    .map(({ from, to, nightly, windowSeconds }) => ({ volume: from, shelves: to, nightly, windowSeconds }));
  const shelves = createShelfWatch({
    ...known,
    shelves: () => flow.view().shelves,
    runs: () => flow.view().runs,
  });
  const due = createDueWatch({
    plans: [...shelfPlans, ...commands.plans],
    ...{ ...known, zone, timer: nightlyTimer(log), volumes: createVolumeWatch(known) },
    shelves: async (volume, names) => commands.seen(names) ?? shelves.look(volume, names),
    begin(order) {
      if (!commands.begin(order)) flow.now({ ...order, adopt: false });
    },
    changed: () => changed(false),
    failed,
    asked: marks.asked,
  });
  let stopVersions = (): void => {};
  return {
    ...{ ...flow, verify, successes: due.successes },
    now: (ask) => beginAnywhere(ask, { flow, commands, shelves: shared.pairs.map(({ shelf }) => shelf.name) }),
    async start() {
      await verify.load();
      await commands.flow.start();
      await flow.start();
      await due.start();
      stopVersions = watchProjectFiles({
        ...{ ...known, failed, volumes: [...new Set(shelfPlans.map(({ volume }) => volume))] },
        shelves: () => flow.view().shelves,
        begin: (order) => void flow.now({ ...order, adopt: false }),
      });
    },
    async stop() {
      stopVersions();
      due.stop();
      await Promise.all([verify.stop(), commands.flow.stop(), flow.stop()]);
    },
  };
}

function watchedShelves(port: ShelfPort, looked: () => void): ShelfPort {
  return {
    ...port,
    look(...where) {
      looked();
      return port.look(...where);
    },
  };
}

/** Milliseconds. A copy counts that was read within the longest period in which some are. */
export function readPeriodOf({ backups }: Pick<FullSettings, 'backups'>): number {
  if (backups.length === 0) return READ_PERIOD_MS;
  return Math.max(...backups.map(({ rereadSeconds }) => rereadSeconds * 1000));
}

/** Each volume with each of its shelves, in the order of the configuration. */
function pairsOf({ volumes, shelves, backups }: FullSettings): BackupPair[] {
  return backups.flatMap(({ from, to, rereadSeconds, hashes }) => {
    const volume = volumes.find(({ name }) => name === from);
    const places = to.flatMap((name) => shelves.find((shelf) => shelf.name === name) ?? []);
    return volume === undefined
      ? []
      : places.map((shelf) => ({ volume: { name: volume.name, path: volume.path }, shelf, rereadSeconds, hashes }));
  });
}
