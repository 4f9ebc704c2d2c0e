import { type BadCopy, MOST_KEPT } from '../../core/backup/backup-run.ts';
import type { BackupStorePort } from '../../core/backup/copies.ts';
import type { VerifyRun } from '../../core/backup/verify-run.ts';
import type { PathText } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';
import type { BackupPair } from './backup-flow.ts';
import { type OpenDeps, type OpenShelf, openShelf } from './open-shelf.ts';
import { type Reread, type RereadDeps, reread } from './re-read.ts';

export interface VerifyDeps extends OpenDeps, RereadDeps {
  store: BackupStorePort;
  clock: Clock;
}

/** Told of every step; `isWorthIt`: it is to be kept. */
type Tell = (run: VerifyRun, isWorthIt: boolean) => Promise<void>;

/**
 * Reads the copies of a run that were not read since it began. What was read is in the ledger batch by batch, so it can be ended at any
 * time, and goes on from there.
 */
export async function verifyCopies(
  deps: VerifyDeps,
  { pair, run }: { pair: BackupPair; run: VerifyRun },
  signal: AbortSignal,
  tell: Tell,
): Promise<VerifyRun> {
  await tell({ ...run, stage: 'looking' }, false);
  const opened = await openShelf(deps, { ...pair, adopt: false });
  if (!('id' in opened)) return { ...run, stage: 'refused', why: opened, endedAt: deps.clock.now() };
  const begun = await counted(deps, run, opened.id);
  const earlierFiles = begun.files - begun.gone;
  const first: VerifyRun = { ...begun, stage: 'reading', earlierFiles };
  await tell(first, true);
  const { result, last } = await readAll(deps, { pair, first, shelf: opened }, signal, tell);
  const end = await counted(deps, last, opened.id);
  const stage = result.trouble !== null ? 'broken' : signal.aborted ? 'stopped' : 'done';
  const why = result.trouble === null ? null : { reason: result.trouble.reason, message: result.trouble.message };
  return { ...end, stage, why, movedBytes: 0, endedAt: deps.clock.now() };
}

async function readAll(
  deps: VerifyDeps,
  { pair, first, shelf }: { pair: BackupPair; first: VerifyRun; shelf: OpenShelf },
  signal: AbortSignal,
  tell: Tell,
): Promise<{ result: Reread; last: VerifyRun }> {
  let now = first;
  const { id, guard } = shelf;
  let telling = Promise.resolve();
  let failure: unknown = null;
  const tellSoon = (run: VerifyRun): void => {
    telling = telling
      .then(() => tell(run, false))
      .catch((error: unknown) => {
        failure ??= error;
      });
  };
  const result = await reread(deps, {
    ...{ shelf: { id, guard }, volume: pair.volume, project: first.project, before: first.before, badFirst: false },
    signal,
    progress(_, readBytes) {
      now = { ...now, movedBytes: readBytes };
      tellSoon(now);
    },
    paused(isPaused) {
      now = { ...now, stage: isPaused ? 'paused' : 'reading' };
      tellSoon(now);
    },
    async gone(soFar) {
      now = { ...now, ...withGone(first, soFar) };
      await tell(now, true);
    },
    async noted(soFar) {
      now = { ...now, ...withGone(first, soFar), ...withRead(first, now, soFar) };
      await tell(now, true);
    },
  });
  await telling;
  if (failure !== null) throw failure;
  return { result, last: now };
}

/** One that a killed run had found gone, and not yet taken out of the ledger, is the same one. */
function freshOf({ goneFirst }: VerifyRun, { gone }: Reread): PathText[] {
  return gone.filter((path) => !goneFirst.includes(path));
}

function withGone(first: VerifyRun, reread: Reread): Pick<VerifyRun, 'gone' | 'goneFirst'> {
  const fresh = freshOf(first, reread);
  return { gone: first.gone + fresh.length, goneFirst: [...first.goneFirst, ...fresh].slice(0, MOST_KEPT) };
}

/** What was read on top of what was known when it began. */
function withRead(first: VerifyRun, now: VerifyRun, reread: Reread): Partial<VerifyRun> {
  const { files, bytes, bad, gone } = reread;
  const again = gone.length - freshOf(first, reread).length;
  const count = (wanted: BadCopy['state']) => bad.filter(({ state }) => state === wanted).length;
  const isNew = bad.length > 0 && now.bad.length < MOST_KEPT;
  return {
    ...{ files: first.files + files - again, bytes: first.bytes + bytes },
    ...{ differing: first.differing + count('differs'), unread: first.unread + count('unread') },
    bad: isNew ? [...first.bad, ...bad].slice(0, MOST_KEPT) : now.bad,
  };
}

/** By the ledger, which is right also after a kill. */
async function counted({ store }: VerifyDeps, run: VerifyRun, shelf: string): Promise<VerifyRun> {
  const { volume, project, before, gone } = run;
  const found = await store.tally({ shelf, volume, project }, before);
  return {
    ...run,
    all: { files: found.files + gone, bytes: found.bytes },
    ...{ files: found.files - found.leftFiles + gone, bytes: found.bytes - found.leftBytes },
    ...{ differing: found.readDiffering, unread: found.readUnread },
  };
}
