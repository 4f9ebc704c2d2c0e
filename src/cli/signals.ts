import { closeSync, openSync } from 'node:fs';
import type { Log } from '../core/ports.ts';
import { exitCodes } from './exit-codes.ts';

export type Asked = 'stop' | 'reload';

/** What signals ask for, one thing after the other: to stop goes before all, and to reload twice is to reload once. */
export interface Signals {
  next(): Promise<Asked>;
}

/**
 * The first SIGINT or SIGTERM stops in order; a second one ends at once. SIGHUP reloads; when the terminal that the log is
 * shown on has gone away, which says so by the same signal, it stops.
 */
export function takeSignals(log: Log, toTerminal: boolean): Signals {
  let isStopAsked = false;
  let isReloadAsked = false;
  let wake = () => {};

  function stop(signal: NodeJS.Signals): void {
    if (isStopAsked) process.exit(exitCodes.failed);
    isStopAsked = true;
    log.info({ signal }, `${signal}: stopping.`);
    wake();
  }

  process.on('SIGINT', stop);
  process.on('SIGTERM', stop);
  process.on('SIGHUP', () => {
    if (toTerminal && isTerminalGone()) return stop('SIGHUP');
    isReloadAsked = true;
    wake();
  });

  return {
    async next() {
      if (!isStopAsked && !isReloadAsked)
        await new Promise<void>((resolve) => {
          wake = resolve;
        });
      if (isStopAsked) return 'stop';
      isReloadAsked = false;
      return 'reload';
    },
  };
}

function isTerminalGone(): boolean {
  try {
    closeSync(openSync('/dev/tty', 'r'));
    return false;
  } catch {
    return true;
  }
}
