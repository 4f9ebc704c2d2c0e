import { randomUUID } from 'node:crypto';
import { fileURLToPath } from 'node:url';
import type { Pace } from '../core/backup/copy-port.ts';
import type { Log } from '../core/ports.ts';
import { createCopyPort } from '../rim/backup/copy-port.ts';
import { createShelfPort } from '../rim/shelf/shelf-port.ts';
import type { Store } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { type BackupFlow, type BackupPair, createBackupFlow } from './backup/backup-flow.ts';

const shelfEntry = fileURLToPath(new URL('./compose-shelf.ts', import.meta.url));

export interface BackupParts {
  settings: FullSettings;
  version: string;
  store: Store;
  log: Log;
  /** How fast copying may go on a volume now. */
  pace: (volume: string) => Pace;
  changed: (copies: boolean) => void;
}

/** The backups of the configuration, with everything that they touch. */
export function composeBackup({ settings, version, store, log, pace, changed }: BackupParts): BackupFlow {
  return createBackupFlow({
    ...{ pairs: pairsOf(settings), store: store.backups, log, pace, changed, clock: systemClock, newId: randomUUID },
    version,
    copies: createCopyPort({ clock: systemClock }),
    shelves: createShelfPort(shelfEntry),
  });
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
