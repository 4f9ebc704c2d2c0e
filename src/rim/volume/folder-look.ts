import { messageOf } from '../../core/fault.ts';
import { askProcess } from '../base/ask-process.ts';

/** The part of `node:fs` that looking takes; tests hand in another one. */
export interface FolderFs {
  realpathSync: { native(path: string): string };
  statSync(path: string): { isDirectory(): boolean };
}

/** A folder without links in its path, as far as they could be followed; `why` it is none, in a sentence, or `null`. */
export interface FolderLook {
  path: string;
  why: string | null;
}

/** Looks where an absolute path leads. On a hung mount it hangs, so it belongs into a process of its own. Never throws. */
export function lookAtFolder(fs: FolderFs, path: string): FolderLook {
  try {
    const real = fs.realpathSync.native(path);
    return { path: real, why: fs.statSync(real).isDirectory() ? null : `${path} is a file, not a folder.` };
  } catch (error) {
    const missing = (error as NodeJS.ErrnoException).code === 'ENOENT';
    return { path, why: missing ? `${path} does not exist.` : `${path} cannot be read: ${messageOf(error)}.` };
  }
}

/**
 * Looks at a folder in a process of its own, `entry`, which takes the path and answers with a `FolderLook`. Without an answer within
 * `withinMs` the folder is taken as it was named: its own process will tell. Never rejects.
 */
export async function askFolder(entry: string, path: string, withinMs: number): Promise<FolderLook> {
  const look = await askProcess(entry, path, withinMs);
  return look === null ? { path, why: null } : (look as FolderLook);
}
