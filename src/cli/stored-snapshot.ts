import type { Snapshot } from '../core/present/snapshot.ts';
import type { DaemonClient } from '../daemon/compose-client.ts';

/** What a daemon that is gone last told, and how long ago, in seconds. */
export interface OldSnapshot {
  snapshot: Snapshot;
  ageSeconds: number;
}

/** What the last daemon stored; `null`: nothing, or it is damaged. */
export function storedSnapshot(client: Pick<DaemonClient, 'lastSnapshot'>): OldSnapshot | 'damaged' | null {
  const last = client.lastSnapshot();
  if (last === null) return null;
  const stored = readStored(last.json);
  if (stored === null) return 'damaged';
  return { snapshot: markOld(stored), ageSeconds: Math.max(0, (Date.now() - last.writtenAt) / 1000) };
}

/** What a daemon that is gone once knew: every volume's state is unknown now, and the page is not there. */
export function markOld(snapshot: Snapshot): Snapshot {
  return {
    ...snapshot,
    page: null,
    volumes: snapshot.volumes.map((volume) => ({ ...volume, state: 'unknown', stale: true })),
  };
}

/** `null` for what is no snapshot: half a file, or one of another kind. */
function readStored(json: string): Snapshot | null {
  try {
    const stored = JSON.parse(json) as Partial<Snapshot>;
    const lists = [stored.volumes, stored.projects, stored.arrivals, stored.advisories];
    return typeof stored.at === 'string' && lists.every(Array.isArray) ? (stored as Snapshot) : null;
  } catch {
    return null;
  }
}
