import { constants, openSync } from 'node:fs';
import { type FileHandle, open } from 'node:fs/promises';

/** Linux alone can be asked not to note when a file was last read (open(2), O_NOATIME). */
const UNNOTED = constants.O_NOATIME ?? 0;

/** The system refuses it for a file of somebody else. */
function isRefused(error: unknown): boolean {
  return (error as NodeJS.ErrnoException).code === 'EPERM' && UNNOTED !== 0;
}

/** Opens a file for reading so that nothing is written for it, not even that it was read; where that is refused, as ever. */
export async function openUnnoted(path: string | Buffer, flags: number): Promise<FileHandle> {
  try {
    return await open(path, flags | UNNOTED);
  } catch (error) {
    if (!isRefused(error)) throw error;
    return open(path, flags);
  }
}

/** The same, synchronous. */
export function openUnnotedSync(path: string | Buffer, flags: number): number {
  try {
    return openSync(path, flags | UNNOTED);
  } catch (error) {
    if (!isRefused(error)) throw error;
    return openSync(path, flags);
  }
}
