import type { FileStat } from '../model.ts';

/** Why a seen file is taken as new, changed or the same; the first difference in this order decides. */
type CompareReason = 'not-known' | 'size' | 'modified-time' | 'changed-time' | 'inode' | 'identical';

export interface Comparison {
  verdict: 'new' | 'changed' | 'same';
  reason: CompareReason;
}

/** What of a file is compared. */
export type Identity = Pick<FileStat, 'size' | 'mtimeNs' | 'ctimeNs' | 'ino'>;

/**
 * Whether a file seen now is the one that is known.
 *
 * Compared are size, modification time, change time and inode. The change time catches what a program hid by setting
 * the modification time back; the inode catches a file that was replaced by another of the same size and times.
 *
 * Not compared:
 * - `dev`: the kernel hands device numbers out anew at every mount (a USB drive comes back as another one, btrfs
 *   subvolumes and network mounts get anonymous numbers), so after a remount a whole untouched volume would look changed.
 * - `allocated`: grows when the kernel writes delayed blocks out, long after the last write and without a new time.
 * - `nlink`: a new hard link moves the change time as well.
 *
 * Inode 0 stands for "not known" (FAT and FUSE number files anew at each mount) and differs from none.
 */
export function compareSeen(known: Identity | null, seen: Identity): Comparison {
  if (known === null) return { verdict: 'new', reason: 'not-known' };
  if (known.size !== seen.size) return { verdict: 'changed', reason: 'size' };
  if (!same64(known.mtimeNs, seen.mtimeNs)) return { verdict: 'changed', reason: 'modified-time' };
  if (!same64(known.ctimeNs, seen.ctimeNs)) return { verdict: 'changed', reason: 'changed-time' };
  if (known.ino !== 0n && seen.ino !== 0n && !same64(known.ino, seen.ino))
    return { verdict: 'changed', reason: 'inode' };
  return { verdict: 'same', reason: 'identical' };
}

/** Equal in 64 bits: an inode with its top bit set is read as negative by some callers and as positive by others. */
function same64(a: bigint, b: bigint): boolean {
  return a === b || BigInt.asIntN(64, a) === BigInt.asIntN(64, b);
}
