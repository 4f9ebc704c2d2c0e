import type { BackupRun } from '../../core/backup/backup-run.ts';
import type { BackupStorePort } from '../../core/backup/copies.ts';
import type { ShelfGuard } from '../../core/backup/copy-port.ts';
import { markerContent, type ShelfPort } from '../../core/backup/shelf-port.ts';
import { judgeShelf } from '../../core/backup/shelf-verdict.ts';
import type { Clock } from '../../core/ports.ts';

/** A shelf that is what it is taken for. */
export interface OpenShelf {
  id: string;
  guard: ShelfGuard;
  totalBytes: number;
  freeBytes: number;
}

export interface OpenDeps {
  store: Pick<BackupStorePort, 'shelves' | 'putShelf'>;
  shelves: Pick<ShelfPort, 'look' | 'mark'>;
  clock: Pick<Clock, 'now'>;
  newId: () => string;
}

interface OpenOrder {
  volume: { path: string };
  shelf: { name: string; path: string };
  adopt: boolean;
}

/** Looks at a shelf; one that was never used gets its marker, and is looked at once more. Or why it is no place for copies now. */
export async function openShelf(deps: OpenDeps, order: OpenOrder): Promise<OpenShelf | NonNullable<BackupRun['why']>> {
  const { store, shelves, clock } = deps;
  const { volume, shelf, adopt } = order;
  const look = await shelves.look(shelf.path, volume.path);
  const verdict = judgeShelf({ ...shelf, look, known: await store.shelves(), adopt });
  if (verdict.is === 'refused') return { reason: verdict.reason, message: verdict.message };
  if (verdict.is === 'new') return (await mark(deps, order)) ?? openShelf(deps, { ...order, adopt: true });
  const { id, drive, guard } = verdict;
  const { totalBytes, freeBytes } = verdict.look;
  await store.putShelf({ id, name: shelf.name, drive, seenAt: clock.now(), totalBytes, freeBytes });
  return { id, guard, totalBytes, freeBytes };
}

/** `null`: its marker is there, and says what was written. */
async function mark({ shelves, newId }: OpenDeps, { volume, shelf }: OpenOrder): Promise<BackupRun['why']> {
  const marker = { id: newId(), name: shelf.name };
  const trouble = await shelves.mark(shelf.path, marker);
  if (trouble !== null) return { reason: 'shelf-mark', message: trouble };
  const look = await shelves.look(shelf.path, volume.path);
  const found = look.is === 'there' && look.marker !== null && look.marker !== 'damaged' ? look.marker.content : null;
  if (found === markerContent(marker)) return null;
  const message = `the marker that was written to ${shelf.path} is not there. Look whether the drive is well.`;
  return { reason: 'shelf-mark', message };
}
