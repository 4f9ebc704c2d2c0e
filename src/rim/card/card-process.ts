import { fork } from 'node:child_process';
import { type CardMount, encodeMount, type FromCard } from './protocol.ts';

/** A process that looks at one card. */
export interface CardProcess {
  onMessage(handler: (message: FromCard) => void): void;
  /** It ended, by itself or not; also of a process that was given up. Called once. */
  onExit(handler: (how: string) => void): void;
  /** Takes no more messages and kills it, without waiting: blocked in a call on a dead reader it cannot even die. */
  abandon(): void;
}

/** Starts `entry` for a mount. */
export type StartCardProcess = (entry: string, mount: CardMount) => CardProcess;

export const startCardProcess: StartCardProcess = (entry, mount) => {
  const child = fork(entry, [encodeMount(mount)], {
    serialization: 'advanced',
    // A process whose folder lies on a card keeps it from being taken out.
    cwd: '/',
    execArgv: ['--optimize-for-size'],
    stdio: ['ignore', 'ignore', 'ignore', 'ipc'],
  });
  return {
    onMessage: (handler) => void child.on('message', (message) => handler(message as FromCard)),
    onExit(handler) {
      // A process that could not be started has no exit.
      child.once('error', (error) => handler(error.message));
      child.once('exit', (code, signal) => handler(signal === null ? `ended with code ${code}` : `ended by ${signal}`));
    },
    abandon() {
      child.removeAllListeners('message');
      child.kill('SIGKILL');
      if (child.connected) child.disconnect();
      child.unref();
    },
  };
};
