import type { BadCopy } from '../../core/backup/backup-run.ts';
import {
  type BackupStorePort,
  type CopyRead,
  type ReadMark,
  type ShelfFile,
  VERIFIED_GRADES,
} from '../../core/backup/copies.ts';
import type { CopyPort, CopyTrouble, Pace, ReadItem, ReadOutcome, ShelfGuard } from '../../core/backup/copy-port.ts';
import type { Instant, PathText } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';
import { keepPace } from './keep-pace.ts';

export interface RereadDeps {
  store: Pick<BackupStorePort, 'stalest' | 'badCopies' | 'putReads' | 'dropCopies' | 'goodCopies' | 'shelves'>;
  copies: Pick<CopyPort, 'readBack'>;
  clock: Clock;
  pace: (volume: string) => Pace;
}

export interface RereadOrder {
  shelf: { id: string; guard: ShelfGuard };
  /** Root of the working volume, and its name. */
  volume: { name: string; path: string };
  /** `null`: all. */
  project: string | null;
  /** Copies that were last read before. */
  before: Instant;
  /** Those that were found bad before come first, however short ago that was. */
  badFirst: boolean;
  signal: AbortSignal;
  /** How far it is, about four times a second. `readBytes`: with what is under way. */
  progress?: (reread: Reread, readBytes: number) => void;
  /** It stands still, or goes on. */
  paused?: (paused: boolean) => void;
  /** Some are gone: the ledger forgets them when this has resolved. */
  gone?: (reread: Reread) => Promise<void>;
  /** Some were read, and the ledger knows. */
  noted?: (reread: Reread) => Promise<void>;
}

/** What was read so far. A new object for every step. */
export interface Reread {
  files: number;
  /** Of those that were there. */
  bytes: number;
  /** What is not what was written, or cannot be read. */
  bad: BadCopy[];
  /** Copies that somebody took away: their files have one less. */
  gone: PathText[];
  /** It could not go on. */
  trouble: CopyTrouble | null;
}

const NOTHING: Reread = { files: 0, bytes: 0, bad: [], gone: [], trouble: null };
const TOGETHER = 2_000;

/**
 * Reads copies of a volume on a shelf again, the longest unread first; what was read is kept batch by batch. Of each that is not what was
 * written the file on the working volume is read, too, and it is looked up where else its content lies: which of the two changed decides where a
 * good one is. Neither is touched.
 */
export async function reread(deps: RereadDeps, order: RereadOrder): Promise<Reread> {
  const { copies, clock, pace } = deps;
  const { shelf, volume, signal, noted, progress, paused } = order;
  const pending = new Map<number, ShelfFile>();
  let result = NOTHING;
  const settled = async (outcomes: ReadOutcome[]): Promise<void> => {
    const found = await sortOut(deps, order, outcomes, pending);
    result = {
      ...result,
      files: result.files + found.files,
      bytes: result.bytes + found.bytes,
      bad: [...result.bad, ...found.bad],
      gone: [...result.gone, ...found.gone],
    };
    if (found.gone.length > 0) await order.gone?.(result);
    await deps.store.putReads(shelf.id, found.reads);
    await deps.store.dropCopies(shelf.id, found.gone);
    await noted?.(result);
  };
  const moved = ({ readBackBytes }: { readBackBytes: number }): void => progress?.(result, readBackBytes);
  const job = { place: { shelf: shelf.guard }, pace: pace(volume.name) };
  if (job.pace.paused) paused?.(true);
  const reading = copies.readBack(job, itemsOf(deps, order, pending), { settled, progress: moved }, signal);
  const stopPacing = keepPace(
    clock,
    () => pace(volume.name),
    reading,
    (now) => paused?.(now.paused),
  );
  try {
    const end = await reading.end;
    return end.ended === 'broken' ? { ...result, trouble: end.trouble } : result;
  } finally {
    stopPacing();
  }
}

async function* itemsOf(
  { store }: RereadDeps,
  { shelf, volume, project, before, badFirst, signal }: RereadOrder,
  pending: Map<number, ShelfFile>,
): AsyncGenerator<ReadItem> {
  let id = 0;
  const itemOf = (file: ShelfFile): ReadItem => {
    pending.set(id, file);
    return { id: id++, path: file.path, size: file.size, expected: file.hash };
  };
  const bad = badFirst ? await store.badCopies(shelf.id, volume.name, TOGETHER) : [];
  yield* bad.map(itemOf);
  const done = new Set(bad.map(({ path }) => path));
  let after: ReadMark | null = null;
  while (!signal.aborted) {
    const scope = { shelf: shelf.id, volume: volume.name, project };
    const files: ShelfFile[] = await store.stalest(scope, before, after, TOGETHER);
    for (const file of files) if (!done.has(file.path)) yield itemOf(file);
    after = files.at(-1) ?? null;
    if (files.length < TOGETHER) return;
  }
}

interface SortedOut {
  files: number;
  bytes: number;
  reads: CopyRead[];
  gone: PathText[];
  bad: BadCopy[];
}

/** What the outcomes of a batch say of its copies. */
async function sortOut(
  deps: RereadDeps,
  order: RereadOrder,
  outcomes: readonly ReadOutcome[],
  pending: Map<number, ShelfFile>,
): Promise<SortedOut> {
  const found: SortedOut = { files: 0, bytes: 0, reads: [], gone: [], bad: [] };
  const bad: ShelfFile[] = [];
  const readAt = deps.clock.now();
  for (const outcome of outcomes) {
    const file = pending.get(outcome.id);
    if (file === undefined) continue;
    pending.delete(outcome.id);
    found.files += 1;
    const { path } = file;
    if (outcome.is === 'failed' && outcome.trouble.code === 'ENOENT') {
      found.gone.push(path);
      continue;
    }
    found.bytes += file.size;
    if (outcome.is === 'read' && outcome.matches === true) {
      found.reads.push({ path, state: 'good', grade: outcome.grade, readAt });
    } else {
      const state = outcome.is === 'read' ? 'differs' : 'unread';
      found.reads.push({ path, state, grade: file.grade, readAt });
      bad.push({ ...file, state });
    }
  }
  if (bad.length > 0) found.bad = await judge(deps, order, bad);
  return found;
}

/** Which side changed, and where a good copy lies. */
async function judge(
  deps: RereadDeps,
  { volume, shelf, signal }: RereadOrder,
  bad: readonly ShelfFile[],
): Promise<BadCopy[]> {
  const sources = new Map<number, ReadOutcome>();
  const items = bad.map(({ source, size, hash }, id) => ({ id, path: source, size, expected: hash }));
  const settled = (outcomes: ReadOutcome[]) => {
    for (const outcome of outcomes) sources.set(outcome.id, outcome);
  };
  const place = { place: { volume: volume.path }, pace: deps.pace(volume.name) };
  await deps.copies.readBack(place, items, { settled }, signal).end;
  const names = new Map((await deps.store.shelves()).map(({ id, name }) => [id, name]));
  const judged: BadCopy[] = [];
  for (const [id, { path, source: file, state, algorithm, hash, size }] of bad.entries()) {
    const source = sources.get(id);
    const is = source?.is !== 'read' ? 'unread' : source.matches === true ? 'as-copied' : 'differs';
    const others = await deps.store.goodCopies({ algorithm, hash, size });
    // The ledger still has this one as it was.
    const other = others.find((one) => one.shelf !== shelf.id || one.path !== path);
    const elsewhere =
      other === undefined
        ? null
        : {
            ...{ shelf: names.get(other.shelf) ?? other.shelf, path: other.path, readAt: other.readAt },
            verified: VERIFIED_GRADES.includes(other.grade),
          };
    judged.push({ path, source: file, state: state === 'differs' ? 'differs' : 'unread', is, elsewhere });
  }
  return judged;
}
