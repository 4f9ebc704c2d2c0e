import { type FileHandle, open } from 'node:fs/promises';
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
  upToBlock,
} from './direct.ts';
import { lookAt } from './publish.ts';
import { type CallPath, StepError } from './steps.ts';

const asPath = (path: CallPath): Buffer | string => path as Buffer;

/** What reading threw, while writing may fail at the same time. */
export class SourceError extends Error {
  readonly code: string | undefined;
  constructor(cause: NodeJS.ErrnoException) {
    super(cause.message, { cause });
    this.code = cause.code;
  }
}

/** A file that goes on through the page cache when it turns out that it cannot be had past it. */
export class OpenFile {
  file: FileHandle;
  direct: boolean;
  readonly path: CallPath;
  #through: Promise<FileHandle> | null = null;

  constructor(path: CallPath, file: FileHandle, direct: boolean) {
    this.path = path;
    this.file = file;
    this.direct = direct;
  }

  /** Goes on through the page cache: this file system has no other way. */
  throughCache(flags: number): Promise<FileHandle> {
    this.direct = false;
    this.#through ??= open(asPath(this.path), flags);
    return this.#through;
  }

  async [Symbol.asyncDispose](): Promise<void> {
    await this.file.close();
    await (await this.#through?.catch(() => null))?.close();
  }
}

/** Past the page cache where the file system takes that. @throws what opening throws */
export async function openForReading(path: CallPath): Promise<OpenFile> {
  try {
    return new OpenFile(path, await open(asPath(path), READ_FLAGS | DIRECT), true);
  } catch (error) {
    if (!isNoDirect(error)) throw error;
    return new OpenFile(path, await open(asPath(path), READ_FLAGS), false);
  }
}

/** A file that is not there yet; the same. */
export async function openNew(path: CallPath): Promise<OpenFile> {
  try {
    return new OpenFile(path, await open(asPath(path), NEW_FLAGS | DIRECT, 0o600), true);
  } catch (error) {
    if (!isNoDirect(error)) throw error;
  }
  // It may have been made before it was refused.
  if (lookAt(path) !== null) return new OpenFile(path, await open(asPath(path), REWRITE_FLAGS), false);
  return new OpenFile(path, await open(asPath(path), NEW_FLAGS, 0o600), false);
}

/** @throws SourceError, or StepError where the file ends too soon */
export async function readAll(file: OpenFile, piece: Buffer, length: number, at: number): Promise<void> {
  try {
    for (let done = 0; done < length; ) {
      const { bytesRead } = await through(file, READ_FLAGS, (handle) =>
        handle.read(piece, done, upToBlock(length - done), at + done),
      );
      if (bytesRead === 0) throw new StepError({ is: 'changed' });
      const to = done + bytesRead;
      // A request that was cut short goes on at a whole block, as O_DIRECT wants it.
      if (to < length && bytesRead < BLOCK) throw new StepError({ is: 'changed' });
      done = to >= length ? to : to - (to % BLOCK);
    }
  } catch (error) {
    throw error instanceof StepError ? error : new SourceError(error as NodeJS.ErrnoException);
  }
}

/** @throws what writing throws */
export async function writeAll(file: OpenFile, bytes: Buffer, at: number): Promise<void> {
  for (let done = 0; done < bytes.length; ) {
    const { bytesWritten } = await through(file, REWRITE_FLAGS, (handle) =>
      handle.write(bytes, done, bytes.length - done, at + done),
    );
    if (bytesWritten === 0)
      throw new StepError({ is: 'failed', step: 'write-copy', code: null, detail: 'nothing was written' });
    done += bytesWritten;
  }
}

/** One request; again after an interruption, and through the page cache where O_DIRECT is refused only now. */
async function through<T>(file: OpenFile, flags: number, call: (handle: FileHandle) => Promise<T>): Promise<T> {
  for (let interruptions = 0; ; interruptions++) {
    const { direct } = file;
    try {
      return await call(direct ? file.file : await file.throughCache(flags));
    } catch (error) {
      if (direct && isNoDirect(error)) file.direct = false;
      else if (!isInterrupted(error) || interruptions === MOST_INTERRUPTIONS) throw error;
    }
  }
}

/** Some file systems know neither modes nor exact times: that is told, and costs no copy. */
export async function isDone(call: Promise<void>): Promise<boolean> {
  try {
    await call;
    return true;
  } catch (error) {
    if (isNotKept(error)) return false;
    throw error;
  }
}
