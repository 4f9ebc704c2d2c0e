import { type BadCopy, MOST_KEPT } from '../../core/backup/backup-run.ts';
import type { ShelfFindings } from '../../core/backup/backup-view.ts';
import type { BackupStorePort, KnownShelf } from '../../core/backup/copies.ts';
import { isLateBefore } from '../../core/backup/reread.ts';
import type { Instant } from '../../core/model.ts';

type BadStore = Pick<BackupStorePort, 'backupNote' | 'putBackupNote' | 'badCopies' | 'altered' | 'lateCopies'>;

/** So many bad copies are kept with what was found about them. */
const DETAILED = 200;

const keyOf = (volume: string, shelf: string): string => `bad ${JSON.stringify([volume, shelf])}`;

/** Keeps which side changed, and where a good copy lies: the ledger alone knows only that a copy is bad. */
export async function keepBad(
  store: BadStore,
  volume: string,
  shelf: string,
  found: readonly BadCopy[],
): Promise<void> {
  if (found.length === 0) return;
  const all = new Map((await kept(store, volume, shelf)).map((one) => [one.path, one]));
  for (const one of found) {
    all.delete(one.path);
    all.set(one.path, one);
  }
  await store.putBackupNote(keyOf(volume, shelf), JSON.stringify([...all.values()].slice(-DETAILED)));
}

/** What is wrong on a shelf by the ledger, whichever reading found it: a backup that was refused since takes nothing back. */
export async function findBad(
  store: BadStore,
  { volume, shelf, rereadSeconds }: { volume: { name: string }; shelf: { name: string }; rereadSeconds: number },
  known: KnownShelf | null,
  now: Instant,
): Promise<ShelfFindings> {
  const nothing = {
    ...{ volume: volume.name, shelf: shelf.name, bad: [], badFiles: 0, altered: [] },
    ...{ rereadSeconds, late: { files: 0, bytes: 0 } },
  };
  if (known === null) return nothing;
  const details = new Map((await kept(store, volume.name, shelf.name)).map((one) => [one.path, one]));
  const files = await store.badCopies(known.id, volume.name, 10_000);
  const bad = files.map(({ path, source, state }): BadCopy => {
    const found = state === 'differs' ? 'differs' : 'unread';
    const detail = details.get(path);
    return detail?.state === found ? detail : { path, source, state: found, is: 'unknown', elsewhere: null };
  });
  const told = bad.toSorted((one, other) => Number(one.is === 'unknown') - Number(other.is === 'unknown'));
  return {
    ...nothing,
    bad: told.slice(0, MOST_KEPT),
    badFiles: files.length,
    altered: (await store.altered(known.id, volume.name)).slice(0, MOST_KEPT),
    late: await store.lateCopies(known.id, volume.name, isLateBefore(rereadSeconds, now)),
  };
}

async function kept(store: BadStore, volume: string, shelf: string): Promise<BadCopy[]> {
  const text = await store.backupNote(keyOf(volume, shelf));
  return text === null ? [] : (JSON.parse(text) as BadCopy[]);
}
