import { type ChildProcess, type ForkOptions, fork } from 'node:child_process';
import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { FromCopy, ToCopy } from './protocol.ts';

const ENTRY = fileURLToPath(new URL('./process.ts', import.meta.url));

/** Requests of large files wait for a thread of libuv each; there are four, unless it is said before the process begins. */
const THREADS = '12';

/** The process of one job. */
export interface CopyProcess {
  readonly pid: number | undefined;
  send(message: ToCopy): void;
  onMessage(handler: (message: FromCopy) => void): void;
  /** It ended, by itself or not. Called once. */
  onExit(handler: (how: string) => void): void;
  /** Takes no more messages and kills it, without waiting: blocked in a call on a dead drive it cannot even die. */
  abandon(): void;
}

export type StartCopyProcess = () => CopyProcess;

/** Starts it behind everything else: processor and drives go to others first, where the drive's scheduler knows such an order. */
export const startCopyProcess: StartCopyProcess = () => forkCopyProcess(lowPriority());

/** The same under other circumstances: another program in front of node. */
export function forkCopyProcess(circumstances: ForkOptions): CopyProcess {
  const child = fork(ENTRY, [], {
    serialization: 'advanced',
    // A process whose folder lies on a volume keeps that volume busy.
    cwd: '/',
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    env: { ...process.env, UV_THREADPOOL_SIZE: THREADS },
    ...circumstances,
  });
  return {
    pid: child.pid,
    send: (message) => {
      if (child.connected) child.send(message, () => {});
    },
    onMessage: (handler) => void child.on('message', (message) => handler(message as FromCopy)),
    onExit: (handler) => {
      // A process that could not be started has no exit. What it said last comes before `close`.
      child.once('error', (error) => handler(error.message));
      child.once('close', (code, signal) =>
        handler(signal === null ? `ended with code ${code}` : `ended by ${signal}`),
      );
    },
    abandon: () => abandon(child),
  };
}

const IONICE = '/usr/bin/ionice';

/** ionice(1): best effort, last in line; not the idle class, in which it might never have its turn. nice(1): a tenth of what others get. */
function lowPriority(): { execPath?: string; execArgv: string[] } {
  if (!existsSync(IONICE)) return { execArgv: [] };
  return { execPath: IONICE, execArgv: ['-c', '2', '-n', '7', 'nice', '-n', '10', process.execPath] };
}

function abandon(child: ChildProcess): void {
  child.removeAllListeners('message');
  child.kill('SIGKILL');
  if (child.connected) child.disconnect();
  child.unref();
}
