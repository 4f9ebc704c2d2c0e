import { readdirSync, readFileSync } from 'node:fs';

/** How many inotify watches a process holds, as the kernel counts them (proc_pid_fdinfo(5): one line each). */
export function kernelWatches(pid: number | 'self'): number {
  let count = 0;
  for (const descriptor of readdirSync(`/proc/${pid}/fdinfo`)) {
    try {
      count += readFileSync(`/proc/${pid}/fdinfo/${descriptor}`, 'utf8').match(/^inotify wd/gm)?.length ?? 0;
    } catch {
      // Closed meanwhile.
    }
  }
  return count;
}
