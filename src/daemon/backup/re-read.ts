import type { BadCopy } from '../../core/backup/backup-run.ts';
import type { BackupStorePort, CopyRead, ShelfFile } from '../../core/backup/copies.ts';
import type { CopyPort, CopyTrouble, Pace, ReadJob, ReadOutcome, ShelfGuard } from '../../core/backup/copy-port.ts';
import type { Clock } from '../../core/ports.ts';

export interface RereadDeps {
  store: Pick<BackupStorePort, 'stalest' | 'badCopies' | 'putReads' | 'dropCopies'>;
  copies: Pick<CopyPort, 'readBack'>;
  clock: Pick<Clock, 'now'>;
}

export interface RereadOrder {
  shelf: { id: string; guard: ShelfGuard };
  /** Root of the working volume, and its name. */
  volume: { name: string; path: string };
  pace: Pace;
  signal: AbortSignal;
}

export interface Reread {
  files: number;
  /** What is not what was written, or cannot be read. */
  bad: BadCopy[];
  /** Copies that somebody took away: their files have one less. */
  gone: number;
  /** It could not go on. */
  trouble: CopyTrouble | null;
}

/** Copies that were last read so long ago are read again: three quarters of the period in which each is to be, so that none is late. */
const REREAD_AFTER_MS = 45 * 86_400_000;
const TOGETHER = 2_000;

/**
 * Reads copies of a shelf again: those that were found bad before, and those whose turn it is, the longest unread first. Of each that is not what
 * was written the file on the working volume is read, too: which of the two changed decides where a good one lies. Neither is touched.
 */
export async function reread(deps: RereadDeps, order: RereadOrder): Promise<Reread> {
  const { store, clock } = deps;
  const { shelf, volume, signal } = order;
  const began = clock.now();
  const result: Reread = { files: 0, bad: [], gone: 0, trouble: null };
  const before = await store.badCopies(shelf.id, volume.name, TOGETHER);
  let files: readonly ShelfFile[] = before;
  const done = new Set(before.map(({ path }) => path));
  while (!signal.aborted && result.trouble === null) {
    await readSome(deps, order, files, result);
    // What was read now is no longer among them, but for what could not be told.
    files = (await store.stalest(shelf.id, began - REREAD_AFTER_MS, TOGETHER)).filter(({ path }) => !done.has(path));
    if (files.length === 0) break;
    for (const { path } of files) done.add(path);
  }
  return result;
}

async function readSome(
  deps: RereadDeps,
  order: RereadOrder,
  files: readonly ShelfFile[],
  result: Reread,
): Promise<void> {
  if (files.length === 0) return;
  const { shelf, volume } = order;
  const outcomes = await readAll(deps, order, { shelf: shelf.guard }, files, ({ path }) => path, result);
  const reads: CopyRead[] = [];
  const gone: string[] = [];
  const bad: ShelfFile[] = [];
  const readAt = deps.clock.now();
  for (const [file, outcome] of outcomes) {
    result.files += 1;
    if (outcome.is === 'failed' && outcome.trouble.code === 'ENOENT') gone.push(file.path);
    else if (outcome.is === 'read' && outcome.matches === true) {
      reads.push({ path: file.path, state: 'good', grade: outcome.grade, readAt });
    } else {
      const state = outcome.is === 'read' ? 'differs' : 'unread';
      reads.push({ path: file.path, state, grade: file.grade, readAt });
      bad.push({ ...file, state });
    }
  }
  await deps.store.putReads(shelf.id, reads);
  await deps.store.dropCopies(shelf.id, gone);
  result.gone += gone.length;
  if (bad.length === 0) return;
  const sources = await readAll(deps, order, { volume: volume.path }, bad, ({ source }) => source, null);
  for (const file of bad) {
    const source = sources.get(file);
    const isThere = source?.is === 'read';
    const is = !isThere ? 'unread' : source.matches === true ? 'as-copied' : 'differs';
    result.bad.push({
      path: file.path,
      source: file.source,
      state: file.state === 'differs' ? 'differs' : 'unread',
      is,
    });
  }
}

async function readAll(
  { copies }: RereadDeps,
  { pace, signal }: RereadOrder,
  place: ReadJob['place'],
  files: readonly ShelfFile[],
  pathOf: (file: ShelfFile) => string,
  result: Reread | null,
): Promise<Map<ShelfFile, ReadOutcome>> {
  const found = new Map<ShelfFile, ReadOutcome>();
  const items = files.map((file, id) => ({ id, path: pathOf(file), size: file.size, expected: file.hash }));
  const settled = (outcomes: ReadOutcome[]) => {
    for (const outcome of outcomes) {
      const file = files[outcome.id];
      if (file !== undefined) found.set(file, outcome);
    }
  };
  const end = await copies.readBack({ place, pace }, items, { settled }, signal).end;
  if (result !== null && end.ended === 'broken') result.trouble = end.trouble;
  return found;
}
