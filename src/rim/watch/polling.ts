import type { RootFound } from './root-check.ts';

/** Folder times say nothing of renames (FAT family) or of what others write in a file: here only full walks count. */
const WEAK_TIMES = new Set(['vfat', 'msdos', 'exfat', 'fuseblk']);

/** Walks and passes together take at most this share of the time. */
const SHARE = 0.01;
const SHORTEST_PAUSE = 5;

/** Whether what happens on this file system must be found by reading it again and again. */
export function mustBePolled({ mount }: Pick<RootFound, 'mount'>): boolean {
  return mount !== null && (mount.remote || WEAK_TIMES.has(mount.fileSystem));
}

/** When the last walk and the last pass ended, and how long they took. Seconds; `null`: there was none. */
export interface Polled {
  walked: { at: number; took: number };
  passed: { at: number; took: number } | null;
}

/**
 * What of a polled root is due. Half of its time is for walks over everything; while one of these is not yet due, the
 * other half is for passes, which read the folders that changed lately. A walk that can be made every five seconds leaves
 * nothing for passes to find.
 */
export function duePoll(now: number, { walked, passed }: Polled): 'walk' | 'pass' | null {
  const walkPause = pauseAfter(walked.took);
  if (now - walked.at >= walkPause) return 'walk';
  const passPause = pauseAfter(passed?.took ?? 0);
  const passedAt = Math.max(passed?.at ?? 0, walked.at);
  return passPause < walkPause && now - passedAt >= passPause ? 'pass' : null;
}

function pauseAfter(took: number): number {
  return Math.max(SHORTEST_PAUSE, took / (SHARE / 2));
}
