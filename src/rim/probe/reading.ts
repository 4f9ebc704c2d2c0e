import { closeSync, constants, fstatSync, openSync, readSync } from 'node:fs';
import { getSystemErrorMessage } from 'node:util';
import type { FileStat } from '../../core/model.ts';
import { toFileStat } from '../base/file-stat.ts';

/** A file that was opened for reading, and what was known of it at that moment. */
export interface OpenFile {
  fd: number;
  stat: FileStat;
}

/** The file gave fewer bytes than its size promises. */
export class ShortRead extends Error {}

const FIRST_READ = 65_536;
const AFTER_SEEK = 16_384;
export const LARGEST_READ = 1_048_576;

/**
 * Opens read-only; without touching the access time where that is permitted (it is the owner's privilege); without
 * waiting, should the name have become a pipe. Throws the system's error.
 */
export function openForReading(path: Buffer | string, known: FileStat): OpenFile {
  const flags = constants.O_RDONLY | constants.O_NONBLOCK;
  const fd = openQuietly(path, flags);
  try {
    return { fd, stat: statOf(fd, known) };
  } catch (thrown) {
    closeSync(fd);
    throw thrown;
  }
}

function openQuietly(path: Buffer | string, flags: number): number {
  try {
    return openSync(path, flags | constants.O_NOATIME);
  } catch (thrown) {
    if (codeOf(thrown) !== 'EPERM') throw thrown;
    return openSync(path, flags);
  }
}

/** What the open file is now; its name is the one it was asked for by. */
export function statOf(fd: number, { path }: Pick<FileStat, 'path'>): FileStat {
  const told = fstatSync(fd, { bigint: true });
  if (!told.isFile()) throw new Error('it is no longer a regular file');
  return toFileStat(path, told);
}

/** In words what differs between two looks at one file, or `null`: the same file, untouched. */
export function whatChanged(before: FileStat, after: FileStat): string | null {
  if (before.dev !== after.dev || before.ino !== after.ino) return 'another file has taken its place';
  if (before.size !== after.size) return `its size went from ${before.size} to ${after.size} bytes`;
  if (before.mtimeNs !== after.mtimeNs) return 'it was written to';
  return before.ctimeNs !== after.ctimeNs ? 'its name, owner or permissions were changed' : null;
}

/**
 * Reads for a parser that jumps about: 64 KiB at first, 16 KiB after a jump (most of a larger block would be thrown
 * away), doubling up to 1 MiB while it goes on in a row. Throws `ShortRead` where the file ends early: an answer about
 * less than the file would look like a good one.
 * @param options.reading wraps each read: the sign of life
 * @param options.block where each read is put, over the last one; no read is longer
 */
export function adaptiveReader(
  fd: number,
  size: number,
  { reading, block }: { reading: (read: () => void) => void; block: Buffer },
): (want: number, from: number) => Uint8Array {
  let next = 0;
  let window = FIRST_READ;
  return (want, from) => {
    if (from !== next) window = AFTER_SEEK;
    const length = Math.min(want, window, size - from, block.length);
    reading(() => readFully(fd, block, length, from));
    next = from + length;
    window = Math.min(window * 2, LARGEST_READ);
    return block.subarray(0, length);
  };
}

/** Fills the first `length` bytes of `into` from `from` on; throws `ShortRead` at an early end. */
export function readFully(fd: number, into: Buffer, length: number, from: number): void {
  let done = 0;
  while (done < length) {
    const got = readSync(fd, into, done, length - done, from + done);
    if (got === 0) throw new ShortRead(`it ends at ${from + done} bytes`);
    done += got;
  }
}

/** Bytes from there on; fewer only at the end of the file. */
export function readSome(fd: number, from: number, length: number): Uint8Array {
  const into = Buffer.allocUnsafe(length);
  return into.subarray(0, Math.max(0, readSync(fd, into, 0, length, from)));
}

/** A system error in words, without the path that Node puts in: `permission denied (EACCES)`. */
export function inWords(thrown: unknown): string {
  const { code, errno } = thrown as NodeJS.ErrnoException;
  if (typeof code === 'string' && typeof errno === 'number') return `${getSystemErrorMessage(errno)} (${code})`;
  return thrown instanceof Error ? thrown.message : String(thrown);
}

function codeOf(thrown: unknown): string | undefined {
  return (thrown as NodeJS.ErrnoException | null)?.code;
}
