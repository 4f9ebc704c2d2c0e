import { closeSync, openSync } from 'node:fs';
import type { CopyItem, CopyOutcome, CopyProgress } from '../../core/backup/copy-port.ts';
import { foldedName, refusedName } from '../../core/backup/name-rules.ts';
import { baseName, dirName } from '../../core/intake/path-text.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { READ_FLAGS } from './direct.ts';
import { flush } from './flush.ts';
import { heldName, type Journal, partName } from './journal.ts';
import type { LargeLane } from './large-lane.ts';
import { type CacheLook, cachedPages, emptyCache, gradeOf, type Medium } from './medium.ts';
import { outcomeOf } from './outcome.ts';
import { removeParts } from './publish.ts';
import { heldPath, type Shelf } from './shelf.ts';
import type { SmallLane } from './small-lane.ts';
import { SMALL } from './small-steps.ts';
import { type CallPath, type PublishResult, type Setback, type Task, toSetback, type Written } from './steps.ts';

/** What the batches of a job are copied with. */
export interface CopyKit {
  volume: string;
  token: string;
  shelf: Shelf;
  medium: Medium;
  journal: Journal;
  small: SmallLane;
  large: LargeLane;
  /** Hears of each step. */
  doing: (step: CopyProgress['doing']) => void;
}

/** Where a file of the batch stands. */
interface Standing {
  item: CopyItem;
  task: Task | null;
  written: Written | null;
  look: CacheLook;
  /** Held open where its cached pages are looked at. */
  fd: number | null;
  published: PublishResult | null;
  pagesAfter: number | null;
  setback: Setback | null;
}

/**
 * Copies the files of one batch, step by step all together: written under another name, flushed, read back, named, names flushed.
 * @returns an outcome for each file but those that a stop came before
 * @throws ShelfGone; then nothing is known of any of them
 */
export async function copyBatch(items: readonly CopyItem[], kit: CopyKit): Promise<CopyOutcome[]> {
  kit.shelf.check();
  try {
    const all = items.map(
      (item): Standing => ({
        ...{ item, task: null, written: null, look: 'not-needed', fd: null },
        ...{ published: null, pagesAfter: null, setback: null },
      }),
    );
    plan(all, kit);
    if (begin(all, kit)) await steps(all, kit);
    kit.shelf.check();
    return all.flatMap((one) => outcomeOfStanding(one, kit));
  } finally {
    kit.shelf.closeFolders();
  }
}

async function steps(all: Standing[], kit: CopyKit): Promise<void> {
  await write(all, kit);
  await flushWritten(all, kit);
  await lookAtCache(all, kit);
  await readBackAndName(all, kit);
  await syncNames(all, kit);
  if (tidyAll(all)) kit.journal.end();
}

/** Decides the names, and opens the folders. */
function plan(all: Standing[], { shelf, medium, volume, token }: CopyKit): void {
  const folded = new Map<string, string>();
  for (const [index, one] of all.entries()) {
    const { id, source, target, size, mtimeNs, ctimeNs, inode } = one.item;
    const key = foldedName(target);
    const twin = medium.names === 'restricted' && (folded.get(key) ?? target) !== target;
    folded.set(key, folded.get(key) ?? target);
    const why =
      refusedName(target, medium.names) ?? (twin ? 'another file of nearly the same name is copied with it' : null);
    if (why !== null) {
      one.setback = { is: 'failed', step: 'publish', code: null, detail: why, reason: 'name-refused' };
      continue;
    }
    try {
      const folder = shelf.folder(dirName(target), true);
      const at = (name: string) => shelf.pathOf(folder, name);
      const names = { part: at(partName(token, id)), held: at(heldName(token, id)), final: at(baseName(target)) };
      const { also = [] } = one.item;
      one.task = { index, source: toAbsolute(volume, source), ...names, size, mtimeNs, ctimeNs, inode, also };
      shelf.touched(folder);
    } catch (error) {
      one.setback = folderSetback(error);
    }
  }
}

function folderSetback(error: unknown): Setback {
  const setback = toSetback(error, 'publish');
  if (setback.is !== 'failed' || !['ENOTDIR', 'ELOOP'].includes(setback.code ?? '')) return setback;
  return { ...setback, reason: 'outside-shelf' };
}

/** Whether the batch may begin: what may be left of it is noted. */
function begin(all: Standing[], { journal }: CopyKit): boolean {
  const begun = all.filter(({ task }) => task !== null);
  if (begun.length === 0) return false;
  try {
    journal.begin(begun.map(({ item }) => [item.id, item.target]));
    return true;
  } catch (error) {
    for (const one of begun) one.setback = toSetback(error, 'write-copy');
    return false;
  }
}

async function write(all: Standing[], { small, large, shelf, doing }: CopyKit): Promise<void> {
  doing('writing');
  const tasks = all.flatMap(({ task }) => task ?? []);
  const [few, many] = bySize(tasks, (task) => task.size);
  const told = (index: number, result: Written | Setback): void => {
    const one = all[index];
    if (one === undefined) return;
    if (result.is !== 'written') one.setback = result;
    else if (!result.found || shelf.hasExactly(one.item.target)) one.written = result;
    else {
      const detail = 'a file of nearly the same name is there, and this file system does not tell the two apart';
      one.setback = { is: 'failed', step: 'publish', code: null, detail, reason: 'name-refused' };
    }
  };
  await Promise.all([small.write(many, told), large.write(few, told)]);
  const again = refusedForRoom(all);
  for (const one of again) one.setback = null;
  const [fewer, more] = bySize(
    again.flatMap(({ task }) => task ?? []),
    (task) => task.size,
  );
  await small.write(more, told);
  await large.write(fewer, told);
}

/**
 * Those that found no room, but for the largest: what does not fit takes the room of the others of its batch until it is given up, and they are
 * tried once more without it.
 */
function refusedForRoom(all: readonly Standing[]): Standing[] {
  const refused = all.filter(
    ({ setback }) => setback?.is === 'failed' && ['ENOSPC', 'EDQUOT'].includes(setback.code ?? ''),
  );
  const largest = Math.max(...refused.map(({ item }) => item.size));
  const kept = refused.findIndex(({ item }) => item.size === largest);
  return refused.filter((one, at) => one.task !== null && at !== kept);
}

/** Those larger than what the small lane takes, and the others. */
export function bySize<T>(all: readonly T[], sizeOf: (one: T) => number): [large: T[], small: T[]] {
  return [all.filter((one) => sizeOf(one) > SMALL), all.filter((one) => sizeOf(one) <= SMALL)];
}

/** Where the written bytes of a file are now. */
function placeOf({ task, written }: Standing): CallPath {
  return (written?.found === true ? task?.final : task?.part) ?? '';
}

const isWritten = (one: Standing): boolean => one.written !== null && one.setback === null;

async function flushWritten(all: Standing[], { shelf, medium, doing }: CopyKit): Promise<void> {
  doing('flushing');
  const written = all.filter(isWritten);
  if (written.length === 0) return;
  const { codes, doubtful } = await flush(shelf.root, written.map(placeOf));
  for (const [at, one] of written.entries()) {
    const code = codes[at] ?? null;
    if (code !== null) one.setback = { is: 'failed', step: 'flush', code, detail: code };
    // The kernel tells a failed flush once; reading past every cache tells the truth all the same.
    else if (doubtful && medium.directness !== 'passes')
      one.setback = { is: 'failed', step: 'flush', code: 'EIO', detail: 'flushing the shelf failed' };
  }
}

/** Where reading past the cache is not sure. */
async function lookAtCache(all: Standing[], { medium }: CopyKit): Promise<void> {
  if (medium.directness !== 'perhaps' && medium.directness !== 'server') return;
  const looked = all.filter(isWritten);
  for (const one of looked) {
    try {
      one.fd = openSync(placeOf(one) as Buffer, READ_FLAGS);
    } catch (error) {
      one.setback = toSetback(error, 'read-back');
    }
  }
  const opened = looked.filter(({ fd }) => fd !== null);
  const looks = await emptyCache(medium.directness, opened.map(pathOfFd));
  for (const [at, one] of opened.entries()) one.look = looks[at] ?? 'not-empty';
}

const pathOfFd = ({ fd }: Standing): string => heldPath(fd ?? -1);

async function readBackAndName(all: Standing[], { small, large, doing, medium }: CopyKit): Promise<void> {
  doing('reading-back');
  const ready = all.flatMap(({ task, written, setback }) =>
    task === null || written === null || setback !== null ? [] : { task, hash: written.hash, found: written.found },
  );
  const [few, many] = bySize(ready, ({ task }) => task.size);
  const told = (index: number, result: PublishResult): void => {
    const one = all[index];
    if (one === undefined) return;
    if (result.is === 'published') one.published = result;
    else one.setback = result;
  };
  await Promise.all([small.publish(many, told), large.publish(few, told)]);
  const opened = all.filter(({ fd }) => fd !== null);
  const pages = medium.directness === 'perhaps' ? await cachedPages(opened.map(pathOfFd)) : [];
  for (const [at, one] of opened.entries()) {
    one.pagesAfter = pages[at] ?? null;
    if (one.fd !== null) closeSync(one.fd);
  }
}

async function syncNames(all: Standing[], { shelf, doing }: CopyKit): Promise<void> {
  doing('flushing');
  try {
    await shelf.syncFolders();
  } catch (error) {
    for (const one of all) if (one.published !== null) one.setback = toSetback(error, 'flush');
  }
}

/** Removes what steps left that could not; whether nothing is left. */
function tidyAll(all: Standing[]): boolean {
  let isClean = true;
  for (const { task, setback } of all) {
    if (task === null || setback === null) continue;
    try {
      removeParts(task);
    } catch {
      isClean = false;
    }
  }
  return isClean;
}

function outcomeOfStanding(
  { item, written, published, setback, look, pagesAfter }: Standing,
  kit: CopyKit,
): CopyOutcome[] {
  if (setback !== null) return outcomeOf(item.id, item.source, item.target, setback);
  if (written === null || published?.is !== 'published') return [];
  const { hash, sums, found, timeKept, modeKept } = written;
  const grade = gradeOf(kit.medium.directness, look, published.direct, pagesAfter);
  return [
    {
      ...{ id: item.id, is: 'copied', algorithm: 'xxh64', hash, grade, bytes: item.size },
      ...{ verifiedAt: 0, found, timeKept, modeKept, sums },
    },
  ];
}
