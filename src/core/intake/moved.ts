import type { FileRecord, FileStat } from '../model.ts';

type Seen = Pick<FileStat, 'path' | 'size' | 'mtimeNs' | 'ino' | 'nlink'>;

/**
 * Whether a file that was seen is a known ready one under another path. A content with one name (`nlink` 1) that is seen
 * under this path is not under that one any more.
 *
 * Inode 0 stands for "this file system's inodes say nothing". The change time is not compared: a rename sets it. Nor is
 * the device: the kernel numbers them anew at every mount.
 */
export function isMoved(known: FileRecord, seen: Seen): boolean {
  return known.state === 'ready' && hasOneName(known) && isSameContent(known, seen) && known.path !== seen.path;
}

/** Whether a ready file of one name gave its path to another: it may be somewhere else now. */
export function isReplaced(known: FileRecord, seen: Seen): boolean {
  if (known.path !== seen.path || known.state !== 'ready' || !hasOneName(known)) return false;
  return seen.ino !== 0n && !isSameInode(known, seen);
}

/**
 * Whether a file that is about to be forgotten is known under another path by now. One that was arriving may have grown
 * since.
 */
export function isRenamed(known: FileRecord, other: FileRecord): boolean {
  if (known.path === other.path || !hasOneName(known)) return false;
  if (known.state !== 'arriving') return isSameContent(known, other);
  return hasOneName(other) && isSameInode(known, other);
}

function isSameContent(known: Seen, seen: Seen): boolean {
  return (
    hasOneName(seen) && isSameInode(known, seen) && known.size === seen.size && same64(known.mtimeNs, seen.mtimeNs)
  );
}

function hasOneName({ nlink, ino }: Pick<Seen, 'nlink' | 'ino'>): boolean {
  return nlink <= 1 && ino !== 0n;
}

function isSameInode(one: Seen, other: Seen): boolean {
  return same64(one.ino, other.ino);
}

function same64(a: bigint, b: bigint): boolean {
  return BigInt.asIntN(64, a) === BigInt.asIntN(64, b);
}
