import { fork } from 'node:child_process';
import { messageOf } from '../../core/fault.ts';

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
 * Looks at a folder in a process of its own, `entry` with the path for an argument, which sends a `FolderLook`. Whoever
 * has called a hung mount can be neither ended nor exited past, so after `withinMs` the process is left to itself, and the
 * folder taken as it was named. Never rejects.
 */
export function askFolder(entry: string, path: string, withinMs: number): Promise<FolderLook> {
  const child = fork(entry, [path], { cwd: '/', execArgv: [], stdio: ['ignore', 'ignore', 'ignore', 'ipc'] });
  return new Promise((resolve) => {
    const end = (look: FolderLook): void => {
      clearTimeout(patience);
      child.removeAllListeners('message');
      child.kill('SIGKILL');
      if (child.connected) child.disconnect();
      child.unref();
      resolve(look);
    };
    const patience = setTimeout(() => end({ path, why: null }), withinMs);
    child.once('message', (look) => end(look as FolderLook));
    // It could not be started, or was ended: nothing is known of the folder, and its own process will tell.
    child.on('error', () => end({ path, why: null }));
    child.once('exit', () => end({ path, why: null }));
  });
}
