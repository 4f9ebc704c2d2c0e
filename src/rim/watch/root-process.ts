import { type ChildProcess, type ForkOptions, fork } from 'node:child_process';
import type { Channel, FromChild, ToChild } from './protocol.ts';

/** One forked process that serves a root. */
export interface RootProcess extends Channel<ToChild, FromChild> {
  readonly pid: number | undefined;
  /** It ended, by itself or not. Called once, also for a process that was abandoned. */
  onExit(handler: (how: string) => void): void;
  /** Takes no more messages from it and kills it, without waiting: blocked in a call on a dead mount it cannot even die. */
  abandon(): void;
}

/** Starts `entry` with one argument. Its first words on standard error are kept, for the log. */
export type StartProcess = (entry: string, argument: string) => RootProcess;

const KEPT_CHARACTERS = 2000;

/**
 * Little room for what lives shortly, and one thread to clear it up: a quarter less memory while 100,000 files are read, in
 * the same time.
 */
export const NODE_OPTIONS = ['--max-semi-space-size=4', '--v8-pool-size=1'];

/**
 * glibc gives memory that is free back when it is a megabyte, instead of keeping as much as was ever freed at once (mallopt(3),
 * M_TRIM_THRESHOLD). Threads that read media come and go, and what each left behind added up.
 */
export const ALLOCATOR = { MALLOC_TRIM_THRESHOLD_: '1048576' };

export const startProcess: StartProcess = (entry, argument) => forkProcess(entry, argument, {});

/** The same under other circumstances: another user, another program in front of node. */
export function forkProcess(entry: string, argument: string, circumstances: ForkOptions): RootProcess {
  const child = fork(entry, [argument], {
    serialization: 'advanced',
    // A process whose folder lies on a volume keeps that volume busy.
    cwd: '/',
    execArgv: NODE_OPTIONS,
    env: { ...process.env, ...ALLOCATOR },
    stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
    ...circumstances,
  });
  let said = '';
  child.stderr?.setEncoding('utf8').on('data', (text: string) => {
    said = (said + text).slice(0, KEPT_CHARACTERS);
  });
  return {
    pid: child.pid,
    send: (message) => {
      if (child.connected) child.send(message, () => {});
    },
    onMessage: (handler) => void child.on('message', (message) => handler(message as FromChild)),
    onClose: (handler) => void child.once('disconnect', handler),
    onExit: (handler) => {
      // A process that could not be started has no exit.
      child.once('error', (error) => handler(error.message));
      child.once('exit', (code, signal) => handler(describeExit(code, signal, said)));
    },
    abandon: () => abandon(child),
  };
}

function abandon(child: ChildProcess): void {
  child.removeAllListeners('message');
  child.kill('SIGKILL');
  if (child.connected) child.disconnect();
  child.stderr?.destroy();
  child.unref();
}

function describeExit(code: number | null, signal: NodeJS.Signals | null, said: string): string {
  const how = signal === null ? `ended with code ${code}` : `was ended by ${signal}`;
  const words = said.trim();
  return words === '' ? how : `${how}: ${words}`;
}
