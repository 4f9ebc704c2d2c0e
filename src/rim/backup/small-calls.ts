import {
  type BigIntStats,
  closeSync,
  fchmodSync,
  fstatSync,
  ftruncateSync,
  futimesSync,
  openSync,
  readSync,
  unlinkSync,
  writeSync,
} from 'node:fs';
import {
  BLOCK,
  DIRECT,
  isInterrupted,
  isNoDirect,
  isNotKept,
  MOST_INTERRUPTIONS,
  NEW_FLAGS,
  READ_FLAGS,
  REWRITE_FLAGS,
  stretchesOf,
  upToBlock,
} from './direct.ts';
import type { SharedPace } from './pace.ts';
import { type CallPath, StepError } from './steps.ts';

/** A small file that was read whole into memory. */
export interface WholeFile {
  stat: BigIntStats;
  direct: boolean;
}

/** What synchronous calls take for a path; their types know no Uint8Array, which they do take. */
const asPath = (path: CallPath): string => path as string;

/**
 * Reads a file of `accept`able size and kind into page-aligned memory, past the page cache where it can be. Blocks the thread.
 * `accept` looks at the opened file's stat, and throws to refuse it. @throws what the calls throw; StepError when it ends too soon
 */
export function readWhole(
  path: CallPath,
  memory: Buffer,
  pace: SharedPace,
  accept: (stat: BigIntStats) => void,
): WholeFile {
  for (const direct of [true, false]) {
    try {
      return readIn(path, memory, { pace, accept, direct });
    } catch (error) {
      if (!direct || !isNoDirect(error)) throw error;
    }
  }
  throw new Error('unreachable');
}

interface Reading {
  pace: SharedPace;
  accept: (stat: BigIntStats) => void;
  direct: boolean;
}

function readIn(path: CallPath, memory: Buffer, { pace, accept, direct }: Reading): WholeFile {
  const fd = openSync(asPath(path), direct ? READ_FLAGS | DIRECT : READ_FLAGS);
  try {
    const stat = fstatSync(fd, { bigint: true });
    accept(stat);
    const size = Number(stat.size);
    for (let at = 0; at < size; ) {
      const asked = Math.min(pace.requestBytes(), upToBlock(size - at));
      pace.waitSync(Math.min(asked, size - at));
      const got = again(() => readSync(fd, memory, at, asked, at));
      if (got === 0) throw new StepError({ is: 'changed' });
      // A request that was cut short goes on at a whole block, as O_DIRECT wants it.
      const to = at + got;
      at = to >= size ? to : to - (to % BLOCK);
      if (to < size && got < BLOCK) throw new StepError({ is: 'changed' });
    }
    return { stat, direct };
  } finally {
    closeSync(fd);
  }
}

export interface NewFile {
  length: number;
  withHoles: boolean;
  /** Seconds. */
  mtime: number;
  mode: number;
}

/**
 * Writes memory to a file that is made, past the page cache where it can be. Blocks the thread. The file may be there when this throws.
 * @throws what the calls throw
 */
export function writeWhole(path: CallPath, memory: Buffer, file: NewFile): { timeKept: boolean; modeKept: boolean } {
  let made = openNew(path);
  try {
    try {
      fill(made.fd, memory, file);
    } catch (error) {
      if (!made.direct || !isNoDirect(error)) throw error;
      const fd = openSync(asPath(path), REWRITE_FLAGS);
      closeSync(made.fd);
      made = { fd, direct: false };
      fill(fd, memory, file);
    }
    const timeKept = isDone(() => futimesSync(made.fd, file.mtime, file.mtime));
    const modeKept = isDone(() => fchmodSync(made.fd, file.mode));
    return { timeKept, modeKept };
  } finally {
    closeSync(made.fd);
  }
}

function openNew(path: CallPath): { fd: number; direct: boolean } {
  try {
    return { fd: openSync(asPath(path), NEW_FLAGS | DIRECT, 0o600), direct: true };
  } catch (error) {
    if (!isNoDirect(error)) throw error;
    // It may have been made before it was refused.
    removeIfThere(path);
    return { fd: openSync(asPath(path), NEW_FLAGS, 0o600), direct: false };
  }
}

function fill(fd: number, memory: Buffer, { length, withHoles }: NewFile): void {
  for (const { from, to } of stretchesOf(memory, length, withHoles)) {
    for (let at = from; at < to; ) {
      const wrote = again(() => writeSync(fd, memory, at, to - at, at));
      if (wrote === 0)
        throw new StepError({ is: 'failed', step: 'write-copy', code: null, detail: 'nothing was written' });
      at += wrote;
    }
  }
  if (withHoles || length !== upToBlock(length)) ftruncateSync(fd, length);
}

/** Some file systems know neither modes nor exact times: that is told, and costs no copy. */
function isDone(call: () => void): boolean {
  try {
    call();
    return true;
  } catch (error) {
    if (isNotKept(error)) return false;
    throw error;
  }
}

/** Removes a file of ours. @throws what removing throws, unless it is not there */
export function removeIfThere(path: CallPath): void {
  try {
    unlinkSync(asPath(path));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
  }
}

/** @throws what the call throws, but for the first few interruptions */
function again<T>(call: () => T): T {
  for (let interruptions = 0; ; interruptions++) {
    try {
      return call();
    } catch (error) {
      if (!isInterrupted(error) || interruptions === MOST_INTERRUPTIONS) throw error;
    }
  }
}
