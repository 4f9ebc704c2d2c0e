import { constants } from 'node:fs';

/** What O_DIRECT wants of addresses, lengths and places: 4 KiB serves drives with blocks of 512 bytes and of 4096. */
export const BLOCK = 4096;

/** Holes are kept in pieces of this size: the memory that O_DIRECT writes from begins at such a place, and drives like it. */
const HOLE_STEP = 65_536;

/** No link is followed, and a pipe in the place of a file does not hold us up. */
export const READ_FLAGS = constants.O_RDONLY | constants.O_NOFOLLOW | constants.O_NONBLOCK;

/** A name that is there is never opened for writing. */
export const NEW_FLAGS = constants.O_CREAT | constants.O_EXCL | constants.O_WRONLY | constants.O_NOFOLLOW;

export const REWRITE_FLAGS = constants.O_WRONLY | constants.O_NOFOLLOW;

export const DIRECT = constants.O_DIRECT;

/** What a file system says that takes no O_DIRECT: some at opening, some at the first request. */
export function isNoDirect(thrown: unknown): boolean {
  return ['EINVAL', 'ENOTSUP', 'EOPNOTSUPP'].includes((thrown as NodeJS.ErrnoException).code ?? '');
}

/** What a file system says that knows no modes or no exact times: that is told, and costs no copy. */
export function isNotKept(thrown: unknown): boolean {
  return isNoDirect(thrown) || ['EPERM', 'ENOSYS'].includes((thrown as NodeJS.ErrnoException).code ?? '');
}

/** A signal came in between: asked once more, it is done. */
export function isInterrupted(thrown: unknown): boolean {
  return ['EINTR', 'EAGAIN'].includes((thrown as NodeJS.ErrnoException).code ?? '');
}

export const MOST_INTERRUPTIONS = 100;

export function upToBlock(bytes: number): number {
  return Math.ceil(bytes / BLOCK) * BLOCK;
}

/** A stretch of memory that is to be written. */
export interface Stretch {
  from: number;
  to: number;
}

/**
 * What of `memory` must be written: all of it up to a whole block, with zeros behind its `length` bytes; of a file with holes only the pieces
 * that are not all zeros.
 */
export function stretchesOf(memory: Buffer, length: number, withHoles: boolean): Stretch[] {
  const end = upToBlock(length);
  memory.fill(0, length, end);
  if (!withHoles) return [{ from: 0, to: end }];
  const stretches: Stretch[] = [];
  for (let from = 0; from < end; from += HOLE_STEP) {
    const to = Math.min(end, from + HOLE_STEP);
    if (isZeros(memory, from, to)) continue;
    const last = stretches.at(-1);
    if (last?.to === from) last.to = to;
    else stretches.push({ from, to });
  }
  return stretches;
}

const zeros = Buffer.alloc(HOLE_STEP);

function isZeros(memory: Buffer, from: number, to: number): boolean {
  return memory.compare(zeros, 0, to - from, from, to) === 0;
}
