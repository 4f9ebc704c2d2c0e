import { closeSync, openSync } from 'node:fs';
import type { CopyStep } from '../../core/backup/copy-failure.ts';
import type { CopyProgress, ReadItem, ReadOutcome } from '../../core/backup/copy-port.ts';
import { baseName, dirName } from '../../core/intake/path-text.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { bySize } from './copy-batch.ts';
import { READ_FLAGS } from './direct.ts';
import type { LargeLane } from './large-lane.ts';
import { type CacheLook, cachedPages, emptyCache, gradeOf, type Medium } from './medium.ts';
import { outcomeOf } from './outcome.ts';
import { lookAt } from './publish.ts';
import { heldPath, type Shelf } from './shelf.ts';
import type { ReadTask, SmallLane } from './small-lane.ts';
import { type ReadResult, toSetback } from './steps.ts';

/** What the batches of a job are read with. */
export interface ReadKit {
  place: { shelf: Shelf } | { volume: string };
  medium: Medium;
  small: SmallLane;
  large: LargeLane;
  doing: (step: CopyProgress['doing']) => void;
}

interface Standing {
  item: ReadItem;
  fd: number | null;
  look: CacheLook;
  pagesAfter: number | null;
  result: ReadResult | null;
}

/**
 * Reads files again, past the cache as far as that can be.
 * @returns an outcome for each file but those that a stop came before
 * @throws ShelfGone; then nothing is known of any of them
 */
export async function readBatch(items: readonly ReadItem[], kit: ReadKit): Promise<ReadOutcome[]> {
  const { place, medium, small, large, doing } = kit;
  if ('shelf' in place) place.shelf.check();
  doing('reading-back');
  try {
    const all = items.map((item): Standing => ({ item, fd: null, look: 'not-needed', pagesAfter: null, result: null }));
    const tasks = open(all, kit);
    const opened = all.filter(({ fd }) => fd !== null);
    const looks = await emptyCache(medium.directness, opened.map(pathOfFd));
    for (const [at, one] of opened.entries()) one.look = looks[at] ?? 'not-empty';
    const told = (index: number, result: ReadResult): void => {
      const one = all[index];
      if (one !== undefined) one.result = result;
    };
    const [few, many] = bySize(tasks, ({ size }) => size);
    await Promise.all([small.read(many, told), large.read(few, told)]);
    const pages = medium.directness === 'perhaps' ? await cachedPages(opened.map(pathOfFd)) : [];
    for (const [at, one] of opened.entries()) one.pagesAfter = pages[at] ?? null;
    for (const { fd } of opened) if (fd !== null) closeSync(fd);
    if ('shelf' in place) place.shelf.check();
    return all.flatMap((one) => outcomeOfStanding(one, medium));
  } finally {
    if ('shelf' in place) place.shelf.closeFolders();
  }
}

function open(all: Standing[], { place, medium }: ReadKit): ReadTask[] {
  const step: CopyStep = 'shelf' in place ? 'read-back' : 'read-source';
  const isLookedAt = medium.directness === 'perhaps' || medium.directness === 'server';
  return all.flatMap((one, index): ReadTask[] => {
    try {
      const path = pathIn(place, one.item.path);
      const stat = lookAt(path);
      if (stat === null) throw Object.assign(new Error('ENOENT'), { code: 'ENOENT' });
      if (isLookedAt && stat.isFile()) one.fd = openSync(path, READ_FLAGS);
      return [{ index, path, step, size: Number(stat.size), also: one.item.also ?? [] }];
    } catch (error) {
      one.result = toSetback(error, step);
      return [];
    }
  });
}

function pathIn(place: ReadKit['place'], path: string): string | Buffer {
  if ('volume' in place) return toAbsolute(place.volume, path);
  return place.shelf.pathOf(place.shelf.folder(dirName(path), false), baseName(path));
}

const pathOfFd = ({ fd }: Standing): string => heldPath(fd ?? -1);

function outcomeOfStanding({ item, result, look, pagesAfter }: Standing, medium: Medium): ReadOutcome[] {
  if (result === null) return [];
  if (result.is !== 'read')
    return outcomeOf(item.id, item.path, item.path, result).flatMap((one) => (one.is === 'mismatch' ? [] : one));
  const { hash, sums, bytes, mtimeNs, direct } = result;
  const grade = gradeOf(medium.directness, look, direct, pagesAfter);
  const matches = item.expected === null ? null : item.expected === hash;
  return [{ id: item.id, is: 'read', algorithm: 'xxh64', hash, grade, bytes, mtimeNs, readAt: 0, matches, sums }];
}
