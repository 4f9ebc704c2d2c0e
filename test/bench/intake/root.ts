import { fileURLToPath } from 'node:url';
import type { RootEvent } from '../../../src/core/root-port.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { type RemoteRoot, remoteRoot } from '../../../src/rim/watch/remote-root.ts';
import { settingsForFolders } from '../../../src/settings/folders.ts';

const entry = fileURLToPath(new URL('../../../src/daemon/compose-root.ts', import.meta.url));
const silent = { debug() {}, info() {}, warn() {}, error() {} };

/** A root's process as the daemon starts it, without the daemon. */
export function startRoot(volume: string, onEvent: (event: RootEvent) => void): RemoteRoot {
  const { sweepEvery, fullSweepEvery } = settingsForFolders([volume]).arrivals;
  const settings = { sweepEvery, fullSweepEvery };
  const root = remoteRoot({ root: volume, settings, entry, clock: systemClock, log: silent });
  root.start(onEvent);
  return root;
}

/** The root's process with its children. Throws when it has none: nothing would be measured. */
export function pidOf(root: RemoteRoot): number {
  if (root.pid === null) throw new Error('the root has no process');
  return root.pid;
}
