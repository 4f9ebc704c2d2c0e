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
import { watchProjectFiles } from './backup/project-watch.ts';
import { createShelfWatch } from './backup/shelf-watch.ts';
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

/** The backups of the configuration, with everything that they touch. */
export function composeBackup({ settings, version, zone, store, log, assessment, changed }: BackupParts): BackupFlow {
  const failed = (error: unknown): void =>
    log.error({ error: messageOf(error) }, 'Whether a backup is due could not be read or kept.');
  const known = { store: store.backups, clock: systemClock, assessment };
  const flow = createBackupFlow({
    outlooks: () => due.outlooks(),
    pace: (volume) => paceOn(assessment(), volume),
    ...{
      pairs: pairsOf(settings),
      store: store.backups,
      sums: store.cards,
      log,
      changed,
      clock: systemClock,
      newId: randomUUID,
    },
    version,
    copies: createCopyPort({ clock: systemClock }),
    shelves: createShelfPort(shelfEntry),
    shelfChanged: () => void due.again(),
    async ended(run) {
      await shelves.ended(run).catch(failed);
      // Of a part of it no night is made up for.
      if (run.cause === 'project-files') await due.again();
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
    ...flow,
    async start() {
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
      await flow.stop();
    },
  };
}

/** Each volume with each of its shelves, in the order of the configuration. */
function pairsOf({ volumes, shelves, backups }: FullSettings): BackupPair[] {
  return backups.flatMap(({ from, to, hashes }) => {
    const volume = volumes.find(({ name }) => name === from);
    const places = to.flatMap((name) => shelves.find((shelf) => shelf.name === name) ?? []);
    return volume === undefined
      ? []
      : places.map((shelf) => ({ volume: { name: volume.name, path: volume.path }, shelf, hashes }));
  });
}
