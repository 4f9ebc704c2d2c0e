import { spawnSync } from 'node:child_process';
import { forkProcess, type StartProcess } from '../../../src/rim/watch/root-process.ts';

type Limit = 'max_inotify_watches' | 'max_inotify_instances';

/** Runs a program in a user namespace of its own in which a limit (`$1`) is `$0`. */
const FEW_WATCHES = 'echo "$0" > "/proc/sys/user/$1" && shift && exec "$@"';

const inNamespace = (limit: Limit, most: number): string[] => ['-U', '-r', 'sh', '-c', FEW_WATCHES, `${most}`, limit];

/** Whether user namespaces can be made here. */
export const canUnshare = spawnSync('unshare', [...inNamespace('max_inotify_watches', 10), 'true']).status === 0;

/** Starts a root's process where no more than so many folders can be watched. */
export function withFewWatches(limit: Limit, most: number): StartProcess {
  const execArgv = [...inNamespace(limit, most), process.execPath];
  return (entry, argument) => forkProcess(entry, argument, { execPath: 'unshare', execArgv });
}

/** Sets the limit in the namespace of a process; false: it cannot be done here. */
export function raiseLimit(pid: number, limit: Limit, most: number): boolean {
  const inside = ['-t', `${pid}`, '-U', '--preserve-credentials', 'sh', '-c', `echo ${most} > /proc/sys/user/${limit}`];
  return spawnSync('nsenter', inside).status === 0;
}
