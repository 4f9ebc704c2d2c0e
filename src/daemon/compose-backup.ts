import { randomUUID } from 'node:crypto';
import { fileURLToPath } from 'node:url';
import type { Assessment } from '../core/assess/assessment.ts';
import { paceOn } from '../core/backup/pace.ts';
import { messageOf } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';
import { createCopyPort } from '../rim/backup/copy-port.ts';
import { createShelfPort } from '../rim/shelf/shelf-port.ts';
import type { Store } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import { nightlyTimer } from '../rim/system/nightly.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { type BackupFlow, type BackupPair, createBackupFlow } from './backup/backup-flow.ts';
import { createDueWatch } from './backup/due-watch.ts';
import { createLane } from './backup/lane.ts';
import { watchProjectFiles } from './backup/project-watch.ts';
import { createShelfWatch } from './backup/shelf-watch.ts';
import { createVerifyFlow, type VerifyFlow } from './backup/verify-flow.ts';
import { createVolumeWatch } from './backup/volume-watch.ts';

const shelfEntry = fileURLToPath(new URL('./compose-shelf.ts', import.meta.url));

export interface BackupParts {
  settings: FullSettings;
  version: string;
  /** Whose clocks nightly backups go by. */
  zone: string;
  store: Store;
  log: Log;
  assessment: () => Assessment;
  changed: (copies: boolean) => void;
}

/** Backups, and what else is done with copies. */
export interface BackupDesk extends BackupFlow {
  verify: VerifyFlow;
}

/** The backups of the configuration, with everything that they touch. */
export function composeBackup({ settings, version, zone, store, log, assessment, changed }: BackupParts): BackupDesk {
  const failed = (error: unknown): void =>
    log.error({ error: messageOf(error) }, 'Whether a backup is due could not be read or kept.');
  const known = { store: store.backups, clock: systemClock, assessment };
  const shared = {
    pace: (volume: string) => paceOn(assessment(), volume),
    ...{ pairs: pairsOf(settings), store: store.backups, log, clock: systemClock, newId: randomUUID, version },
    ...{ copies: createCopyPort({ clock: systemClock }), shelves: createShelfPort(shelfEntry), lane: createLane() },
  };
  const verify = createVerifyFlow({ ...shared, changed: () => changed(false), refresh: () => flow.refresh() });
  const flow = createBackupFlow({
    ...{ ...shared, changed },
    beside: () => ({ outlooks: due.outlooks(), verifications: verify.view() }),
    shelfChanged: () => due.again(),
    async ended(run) {
      await shelves.ended(run);
      // Of a part of it no night is made up for.
      if (run.cause === 'project-files') due.again();
      else await due.ended(run);
    },
  });
  const shelves = createShelfWatch({
    ...known,
    shelves: () => flow.view().shelves,
    runs: () => flow.view().runs,
  });
  const due = createDueWatch({
    plans: settings.backups.map(({ from, to, nightly, windowSeconds }) => {
      return { volume: from, shelves: to, nightly, windowSeconds };
    }),
    ...{ ...known, zone, timer: nightlyTimer(log), volumes: createVolumeWatch(known), shelves: shelves.look },
    begin: (order) => void flow.now({ ...order, adopt: false }),
    changed: () => changed(false),
    failed,
  });
  let stopVersions = (): void => {};
  return {
    ...{ ...flow, verify },
    async start() {
      await verify.load();
      await flow.start();
      await due.start();
      stopVersions = watchProjectFiles({
        ...{ ...known, failed, volumes: [...new Set(settings.backups.map(({ from }) => from))] },
        shelves: () => flow.view().shelves,
        begin: (order) => void flow.now({ ...order, adopt: false }),
      });
    },
    async stop() {
      stopVersions();
      due.stop();
      await Promise.all([verify.stop(), flow.stop()]);
    },
  };
}

/** Each volume with each of its shelves, in the order of the configuration. */
function pairsOf({ volumes, shelves, backups }: FullSettings): BackupPair[] {
  return backups.flatMap(({ from, to, rereadSeconds }) => {
    const volume = volumes.find(({ name }) => name === from);
    const places = to.flatMap((name) => shelves.find((shelf) => shelf.name === name) ?? []);
    return volume === undefined
      ? []
      : places.map((shelf) => ({ volume: { name: volume.name, path: volume.path }, shelf, rereadSeconds }));
  });
}
