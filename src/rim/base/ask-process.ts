import { fork } from 'node:child_process';

/**
 * Asks a process of its own, `entry` with an argument, for the one message that it sends. Whoever has called a hung mount can be neither ended
 * nor exited past, so after `withinMs` the process is left to itself. Never rejects; `null`: there was no answer.
 */
export function askProcess(entry: string, argument: string, withinMs: number): Promise<unknown> {
  const child = fork(entry, [argument], { cwd: '/', execArgv: [], stdio: ['ignore', 'ignore', 'ignore', 'ipc'] });
  return new Promise((resolve) => {
    const end = (answer: unknown): void => {
      clearTimeout(patience);
      child.removeAllListeners('message');
      child.kill('SIGKILL');
      if (child.connected) child.disconnect();
      child.unref();
      resolve(answer);
    };
    const patience = setTimeout(() => end(null), withinMs);
    child.once('message', end);
    // It could not be started, or was ended.
    child.on('error', () => end(null));
    child.once('exit', () => end(null));
  });
}
