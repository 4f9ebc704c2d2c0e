import { type BackupRun, MOST_KEPT, newRun, type RunCause, withTrouble } from '../../core/backup/backup-run.ts';
import { type BackupStorePort, type KeptCopy, VERIFIED_GRADES } from '../../core/backup/copies.ts';
import type { CopyEnd, CopyItem, CopyOutcome, CopyPort, CopyRun, Pace } from '../../core/backup/copy-port.ts';
import type { HashFormat } from '../../core/backup/mhl-model.ts';
import { stampOf } from '../../core/backup/places.ts';
import type { ShelfPort } from '../../core/backup/shelf-port.ts';
import type { ReadVersion, SumStorePort } from '../../core/cards/known-list.ts';
import type { PathText } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';
import { backlogItems, type Pending } from './backlog-items.ts';
import { listNew } from './list-new.ts';
import { type OpenShelf, openShelf } from './open-shelf.ts';
import { reread } from './re-read.ts';
export interface BackupPlace {
  name: string;
  path: string;
}

export interface BackupOrder {
  volume: BackupPlace;
  shelf: BackupPlace;
  cause: RunCause;
  /** A person said that what is at the shelf's path is the shelf. */
  adopt: boolean;
  /** That lists hold besides XXH64. */
  hashes: readonly HashFormat[];
  /** Of `BACKUP_RANKS` this one alone, and nothing else is done. */
  onlyRank?: number;
}

export interface RunDeps {
  store: BackupStorePort;
  sums: Pick<SumStorePort, 'putRead'>;
  copies: CopyPort;
  shelves: ShelfPort;
  clock: Clock;
  newId: () => string;
  version: string;
  /** How fast it may go now. */
  pace: (volume: string) => Pace;
}

/** Share of a shelf that stays free: file systems that are full to the last byte are slow, and some cannot delete any more. */
const KEPT_FREE = 0.01;
/** How often the pace is asked for. */
const PACE_MS = 2_000;

/**
 * One backup: looks at the shelf, copies what it lacks with each copy read back, and puts every batch into the ledger before the next but
 * one begins. Nothing is left half done: what has no outcome is copied by the next run. `changed` is told of every step.
 */
export async function runBackup(
  deps: RunDeps,
  order: BackupOrder,
  signal: AbortSignal,
  changed: (run: BackupRun) => void,
): Promise<BackupRun> {
  const job = new Job(deps, order, changed);
  const shelf = await job.open();
  if (shelf !== null) {
    await job.copy(shelf, signal);
    if (order.onlyRank === undefined) await finish(deps, order, job, shelf, signal);
  }
  return job.end();
}

/** What follows when all is copied: copies are read again, and lists are written. */
async function finish(
  deps: RunDeps,
  order: BackupOrder,
  job: Job,
  shelf: OpenShelf,
  signal: AbortSignal,
): Promise<void> {
  await job.reread(shelf, signal);
  await listNew(deps, { ...shelf, volume: order.volume.name, hashes: order.hashes, trouble: (why) => job.left(why) });
}

/** What is in a file that was copied, by the hashes that were wanted. */
function versionOf({ file }: Pending, { hash, sums, verifiedAt }: Extract<CopyOutcome, { is: 'copied' }>): ReadVersion {
  const { volume, path, size, mtimeNs } = file;
  return { volume, path, size, mtimeNs, readAt: verifiedAt, sums: { ...sums, xxh64: hash } };
}

class Job {
  readonly #deps: RunDeps;
  readonly #order: BackupOrder;
  readonly #changed: (run: BackupRun) => void;
  readonly #pending = new Map<number, Pending>();
  readonly #stamp: string;
  #run: BackupRun;
  /** When it began to copy, on the clock that never jumps; `null`: it does not now. */
  #copiesSince: number | null = null;
  /** Bytes that still go onto the shelf. */
  #roomLeft = 0;

  constructor(deps: RunDeps, order: BackupOrder, changed: (run: BackupRun) => void) {
    this.#deps = deps;
    this.#order = order;
    this.#changed = changed;
    const startedAt = deps.clock.now();
    this.#stamp = stampOf(startedAt);
    this.#run = newRun({ volume: order.volume.name, shelf: order.shelf.name, cause: order.cause, startedAt });
    changed(this.#run);
  }

  /** The shelf, if it is one to copy to; else the run is refused. */
  async open(): Promise<OpenShelf | null> {
    const opened = await openShelf(this.#deps, this.#order);
    if (!('id' in opened)) {
      this.#set({ stage: 'refused', why: opened });
      return null;
    }
    this.#roomLeft = opened.freeBytes - KEPT_FREE * opened.totalBytes;
    // Of a part of it nobody counts before.
    if (this.#order.onlyRank !== undefined) return opened;
    const { files, bytes } = await this.#deps.store.backlogSum(this.#order.volume.name, opened.id);
    this.#set({ wanted: { files, bytes } });
    return opened;
  }

  async copy(shelf: OpenShelf, signal: AbortSignal): Promise<void> {
    this.#set({ stage: 'copying' });
    const { volume } = this.#order;
    const pace = this.#deps.pace(volume.name);
    if (pace.paused) this.#set({ stage: 'paused' });
    const hooks = {
      settled: (outcomes: CopyOutcome[]) => this.#settle(shelf.id, outcomes),
      progress: ({ writtenBytes, readBackBytes }: { writtenBytes: number; readBackBytes: number }) =>
        this.#set({ movedBytes: writtenBytes + readBackBytes }),
    };
    const copying = this.#deps.copies.copy(
      { volume: volume.path, shelf: shelf.guard, pace },
      this.#items(shelf, signal),
      hooks,
      signal,
    );
    const stopPacing = this.#keepPace(copying);
    try {
      this.#finish(await copying.end);
    } finally {
      stopPacing();
    }
  }

  /** After what is new: what was copied long ago, and what was found bad before. */
  async reread({ id, guard }: OpenShelf, signal: AbortSignal): Promise<void> {
    if (signal.aborted || this.#run.stage !== 'done') return;
    const { volume } = this.#order;
    this.#set({ stage: 're-reading' });
    const pace = this.#deps.pace(volume.name);
    const { files, bad, gone, trouble } = await reread(this.#deps, { shelf: { id, guard }, volume, pace, signal });
    const altered = (await this.#deps.store.altered(id, volume.name)).slice(0, MOST_KEPT);
    const stage = signal.aborted ? 'stopped' : 'done';
    this.#set({ stage, reread: files, bad: bad.slice(0, MOST_KEPT), gone, altered });
    if (trouble !== null) this.#finish({ ended: 'broken', trouble });
  }

  /** The copies are there all the same. */
  left({ path, message }: { path: PathText; message: string }): void {
    const advice = 'the next backup tries again';
    this.#set(withTrouble(this.#run, { reason: 'failed', path, message, advice, code: null }));
  }

  end(): BackupRun {
    this.#set({ endedAt: this.#deps.clock.now() });
    return this.#run;
  }

  #items(shelf: OpenShelf, signal: AbortSignal): AsyncGenerator<CopyItem> {
    return backlogItems(this.#deps, {
      ...{ order: this.#order, shelf, signal, room: this.#roomLeft, stamp: this.#stamp },
      pending: (id, pending) => void this.#pending.set(id, pending),
      trouble: (trouble) => this.#set(withTrouble(this.#run, trouble)),
      unsettled: () => this.#set({ changed: this.#run.changed + 1 }),
    });
  }

  async #settle(shelf: string, outcomes: readonly CopyOutcome[]): Promise<void> {
    const kept: KeptCopy[] = [];
    const read: ReadVersion[] = [];
    for (const outcome of outcomes) {
      const pending = this.#pending.get(outcome.id);
      if (pending === undefined) continue;
      this.#pending.delete(outcome.id);
      if (outcome.is === 'copied') {
        kept.push(this.#keptCopy(shelf, pending, outcome));
        if (Object.keys(outcome.sums).length > 0) read.push(versionOf(pending, outcome));
      } else if (outcome.is === 'changed') this.#run = { ...this.#run, changed: this.#run.changed + 1 };
      else this.#run = withTrouble(this.#run, outcome.trouble);
    }
    await this.#deps.store.putCopies(kept);
    await this.#deps.sums.putRead(read);
    const verified = kept.filter(({ grade }) => VERIFIED_GRADES.includes(grade));
    const bytes = (copies: readonly KeptCopy[]) => copies.reduce((sum, { size }) => sum + size, 0);
    const { files, bytes: before, verifiedFiles, verifiedBytes } = this.#run;
    this.#set({
      ...{ files: files + kept.length, bytes: before + bytes(kept) },
      ...{ verifiedFiles: verifiedFiles + verified.length, verifiedBytes: verifiedBytes + bytes(verified) },
    });
  }

  #keptCopy(shelf: string, { file, target }: Pending, outcome: Extract<CopyOutcome, { is: 'copied' }>): KeptCopy {
    const { algorithm, hash, grade, verifiedAt } = outcome;
    return {
      ...{ shelf, path: target, volume: file.volume, project: file.project, kind: file.kind, source: file.path },
      ...{ size: file.size, mtimeNs: file.mtimeNs, algorithm, hash, grade, copiedAt: verifiedAt, readAt: verifiedAt },
    };
  }

  /** Asks again and again how fast it may go, and says when it stands still. */
  #keepPace(copying: CopyRun): () => void {
    let cancel = (): void => {};
    let last = JSON.stringify(this.#deps.pace(this.#order.volume.name));
    const ask = (): void => {
      const pace = this.#deps.pace(this.#order.volume.name);
      if (JSON.stringify(pace) !== last) {
        last = JSON.stringify(pace);
        copying.pace(pace);
        this.#set({ stage: pace.paused ? 'paused' : 'copying' });
      }
      cancel = this.#deps.clock.after(PACE_MS, ask);
    };
    ask();
    return () => cancel();
  }

  #copiedFor(): number {
    const { copyingSeconds } = this.#run;
    return this.#copiesSince === null
      ? copyingSeconds
      : copyingSeconds + (this.#deps.clock.ticks() - this.#copiesSince) / 1000;
  }

  #finish(end: CopyEnd): void {
    if (end.ended === 'broken') {
      const { reason, message } = end.trouble;
      this.#set({ stage: 'broken', why: { reason, message } });
    } else this.#set({ stage: end.ended === 'stopped' ? 'stopped' : 'done' });
  }

  #set(change: Partial<BackupRun>): void {
    this.#run = { ...this.#run, copyingSeconds: this.#copiedFor(), ...change };
    this.#copiesSince = this.#run.stage === 'copying' ? this.#deps.clock.ticks() : null;
    this.#changed(this.#run);
  }
}
