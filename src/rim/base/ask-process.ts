import { fork } from 'node:child_process';

/** A request that a process of its own was handed. */
export interface Asked {
  /** The one message that it answers; `null`: there was none in time, or it ended without one. */
  answer: Promise<unknown>;
  /** The process has ended. Whoever has called a hung mount may take for ever. */
  gone: Promise<void>;
  /** Waits no longer: it is ended where that is possible. */
  abandon(): void;
}

/**
 * Hands a request to a process of its own, `entry`, and waits for the one message that it answers. Whoever has called a hung mount can be
 * neither ended nor exited past, so after `withinMs` the process is left to itself. Never rejects; `null`: there was no answer.
 */
export function askProcess(entry: string, request: unknown, withinMs: number): Promise<unknown> {
  return startAsking(entry, request, withinMs).answer;
}

/** The same, for who must know when the process is gone. */
export function startAsking(entry: string, request: unknown, withinMs: number): Asked {
  const stdio = ['ignore', 'ignore', 'ignore', 'ipc'] as const;
  const child = fork(entry, [], { cwd: '/', execArgv: [], stdio: [...stdio], serialization: 'advanced' });
  const gone = new Promise<void>((resolve) => {
    child.once('exit', () => resolve());
    child.once('error', () => resolve());
  });
  const { promise: answer, resolve } = Promise.withResolvers<unknown>();
  const end = (told: unknown): void => {
    clearTimeout(patience);
    child.removeAllListeners('message');
    child.kill('SIGKILL');
    if (child.connected) child.disconnect();
    child.unref();
    resolve(told);
  };
  const abandon = (): void => end(null);
  const patience = setTimeout(abandon, withinMs);
  child.once('message', end);
  // It could not be started, or was ended.
  child.on('error', abandon);
  child.once('exit', abandon);
  child.send(request as object, () => {});
  return { answer, gone, abandon };
}

/** The process's side: answers the one request, and ends with whoever asked. */
export function answerProcess(answer: (request: unknown) => unknown): void {
  process.on('disconnect', () => process.exit(0));
  process.once('message', async (request) => {
    process.send?.(await answer(request));
  });
}
