import { BACKUP_RANKS, type BacklogFile, PROJECT_FILE_RANK } from '../../core/backup/copies.ts';
import type { CopyItem, CopyTrouble } from '../../core/backup/copy-port.ts';
import { placeCopy } from '../../core/backup/places.ts';
import type { FileRecord, PathText } from '../../core/model.ts';
import { display } from '../../core/present/escape.ts';
import { formatBytes } from '../../core/units.ts';
import type { BackupOrder, RunDeps } from './backup-run.ts';
import type { OpenShelf } from './open-shelf.ts';
import { withoutTouched } from './same-content.ts';

/** A file that is on its way to the shelf. */
export interface Pending {
  file: FileRecord;
  target: PathText;
}

export interface ItemsFor {
  order: BackupOrder;
  shelf: OpenShelf;
  signal: AbortSignal;
  /** Bytes that still go onto the shelf. */
  room: number;
  /** Of the folder that earlier versions of this run go to. */
  stamp: string;
  pending: (id: number, pending: Pending) => void;
  trouble: (trouble: CopyTrouble) => void;
  /** A file that may be in the middle of being saved is left for the next run. */
  unsettled: () => void;
}

/** A project file that was written to within so long may be saved on: programs write them in several steps (common practice, no source). */
const SAVED_MS = 2 * 60_000;
/** Somebody who asks for a backup has just saved, and waits for it. */
const SAVED_ASKED_MS = 10_000;

/** What the shelf lacks, in order of irreplaceability, as the engine is to copy it. Earlier versions are set aside on the way. */
export async function* backlogItems(deps: RunDeps, ask: ItemsFor): AsyncGenerator<CopyItem> {
  const { order, shelf, signal } = ask;
  let room = ask.room;
  let nextId = 0;
  for (const rank of order.onlyRank === undefined ? BACKUP_RANKS.keys() : [order.onlyRank]) {
    let after: number | null = null;
    do {
      const page = await deps.store.backlog(order.volume.name, shelf.id, rank, after);
      const volume = { path: order.volume.path, pace: deps.pace(order.volume.name) };
      for (const one of await withoutTouched(deps, page.files, volume, signal)) {
        const target = await placeOf(deps, ask, one, { rank, room });
        if (target === null) continue;
        const { file } = one;
        room -= file.size;
        const id = nextId++;
        ask.pending(id, { file, target });
        const { path: source, size, mtimeNs, ctimeNs, ino: inode } = file;
        yield { id, source, target, size, mtimeNs, ctimeNs, inode, also: order.hashes };
      }
      after = page.next;
    } while (after !== null);
  }
}

/** Where its copy goes; `null`: it is not copied now. */
async function placeOf(
  deps: RunDeps,
  ask: ItemsFor,
  one: BacklogFile,
  { rank, room }: { rank: number; room: number },
): Promise<PathText | null> {
  const { file } = one;
  if (rank === PROJECT_FILE_RANK && isFresh(file, deps.clock.now(), ask.order.cause)) {
    ask.unsettled();
    return null;
  }
  if (file.size > room) {
    ask.trouble(noRoom(ask.order.shelf.name, file));
    return null;
  }
  const placing = placeCopy(one, ask.stamp);
  if (placing.do === 'replace' && !(await setAside(deps, ask, placing.from, placing.aside))) return null;
  return placing.target;
}

/** One that is dated by a clock that was ahead is not waited for. */
function isFresh({ mtimeNs }: FileRecord, now: number, cause: BackupOrder['cause']): boolean {
  const age = now - Number(mtimeNs / 1_000_000n);
  return age >= 0 && age < (cause === 'command' ? SAVED_ASKED_MS : SAVED_MS);
}

/** Known before anything is written: what comes later and is smaller may still go there. */
function noRoom(shelf: string, file: FileRecord): CopyTrouble {
  const message = `${shelf} has no room for ${display(file.path)} (${formatBytes(file.size)})`;
  const advice = 'make room on the shelf, or use a larger one';
  return { reason: 'shelf-full', path: file.path, message, advice, code: null };
}

/** False when it could not be: then the newer version is not copied either, for its place is taken. */
async function setAside(
  { shelves, store }: RunDeps,
  { shelf: { id, guard }, trouble }: ItemsFor,
  from: PathText,
  aside: PathText,
): Promise<boolean> {
  const done = await shelves.setAside(guard, from, aside);
  if (typeof done === 'object') {
    const advice = 'look at the shelf; the next backup tries again';
    trouble({ reason: 'target-exists', path: from, message: done.trouble, advice, code: null });
    return false;
  }
  if (done === 'moved') await store.moveCopy(id, from, aside);
  return true;
}
