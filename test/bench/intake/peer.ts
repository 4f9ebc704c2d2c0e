import { spawn } from 'node:child_process';
import { end, started } from './daemon.ts';
import { programPath } from './tree.ts';

/** chokidar as it comes, alone in a process of its own. */
export interface Watcher {
  pid: number;
  /** It has read the whole tree. */
  ready: Promise<void>;
  end(): Promise<void>;
}

export async function startWatcher(folder: string): Promise<Watcher> {
  const child = spawn(process.execPath, [programPath('watch-alone.ts'), folder], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const pid = await started(child);
  const ready = new Promise<void>((resolve, reject) => {
    child.stdout.once('data', () => resolve());
    child.once('exit', (code) => reject(new Error(`the other watcher ended with ${code}`)));
  });
  return { pid, ready, end: () => end(child, 'SIGKILL') };
}
