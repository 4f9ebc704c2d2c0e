import { randomUUID } from 'node:crypto';
import { fileURLToPath } from 'node:url';
import type { Assessment } from '../core/assess/assessment.ts';
import { deadlineOf } from '../core/backup/nightly.ts';
import { paceOn } from '../core/backup/pace.ts';
import { timetable } from '../core/backup/slots.ts';
import { messageOf } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';
import { createCopyPort } from '../rim/backup/copy-port.ts';
import { createShelfPort } from '../rim/shelf/shelf-port.ts';
import type { Store } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import { nightlyTimer } from '../rim/system/nightly-timer.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { type BackupFlow, type BackupPair, createBackupFlow } from './backup/backup-flow.ts';
import { watchEarly } from './backup/early-watch.ts';
import { createNightlyWatch } from './backup/nightly-watch.ts';

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
  const flow = createBackupFlow({
    nextAt: (volume) => watch.nextAt(volume),
    pace: (volume) => paceOn(assessment(), volume),
    ...{ pairs: pairsOf(settings), store: store.backups, log, changed, clock: systemClock, newId: randomUUID },
    version,
    copies: createCopyPort({ clock: systemClock }),
    shelves: createShelfPort(shelfEntry),
  });
  const plans = settings.backups.map(({ from, to, nightly, windowSeconds }) => {
    return { volume: from, shelves: to, nightly, windowSeconds };
  });
  const watch = createNightlyWatch({
    ...{ plans, zone, store: store.backups, clock: systemClock, timer: nightlyTimer },
    begin({ volume, shelves, nightly, windowSeconds }, cause) {
      const until = deadlineOf(timetable(nightly, zone), systemClock.now(), windowSeconds);
      for (const shelf of shelves) flow.now({ volume, shelf, adopt: false, cause, until });
    },
    failed: (error) =>
      log.error({ error: messageOf(error) }, 'Whether a nightly backup is due could not be read or kept.'),
  });
  let stopEarly = (): void => {};
  return {
    ...flow,
    async start() {
      await flow.start();
      watch.start();
      stopEarly = watchEarly({
        ...{ volumes: [...new Set(plans.map(({ volume }) => volume))], assessment, clock: systemClock },
        begin: (volume, cause) => void flow.now({ volume, shelf: null, adopt: false, cause }),
      });
    },
    async stop() {
      watch.stop();
      stopEarly();
      await flow.stop();
    },
  };
}

/** Each volume with each of its shelves, in the order of the configuration. */
function pairsOf({ volumes, shelves, backups }: FullSettings): BackupPair[] {
  return backups.flatMap(({ from, to }) => {
    const volume = volumes.find(({ name }) => name === from);
    const places = to.flatMap((name) => shelves.find((shelf) => shelf.name === name) ?? []);
    return volume === undefined
      ? []
      : places.map((shelf) => ({ volume: { name: volume.name, path: volume.path }, shelf }));
  });
}
