import { fork } from 'node:child_process';

/**
 * Hands a request to a process of its own, `entry`, and waits for the one message that it answers. Whoever has called a hung mount can be
 * neither ended nor exited past, so after `withinMs` the process is left to itself. Never rejects; `null`: there was no answer.
 */
export function askProcess(entry: string, request: unknown, withinMs: number): Promise<unknown> {
  const stdio = ['ignore', 'ignore', 'ignore', 'ipc'] as const;
  const child = fork(entry, [], { cwd: '/', execArgv: [], stdio: [...stdio], serialization: 'advanced' });
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
    child.send(request as object, () => {});
  });
}

/** The process's side: answers the one request, and ends with whoever asked. */
export function answerProcess(answer: (request: unknown) => unknown): void {
  process.on('disconnect', () => process.exit(0));
  process.once('message', async (request) => {
    process.send?.(await answer(request));
  });
}
