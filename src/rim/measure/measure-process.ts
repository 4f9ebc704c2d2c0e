import { fork } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { messageOf } from '../../core/fault.ts';
import { type MeasureFile, removeLeftovers } from './measure-file.ts';
import { type Measured, type MeasureOrder, type MeasureProgress, measureHere } from './measuring.ts';

type Told = { progress: MeasureProgress } | { done: Measured } | { failed: string; code: string | null };

/** Requests wait for a thread of libuv each; there are four, unless it is said before the process begins. */
const THREADS = '32';

class MeasureFailed extends Error {
  readonly code: string | null;
  constructor(message: string, code: string | null) {
    super(message);
    this.code = code;
  }
}

/**
 * Measures in a process of its own, `entry`, which ends with this one.
 * @throws MeasureFailed with the system's code where there is one
 */
export function measureElsewhere(
  entry: string,
  order: MeasureOrder,
  tell: (progress: MeasureProgress) => void,
): Promise<Measured> {
  const child = fork(entry, [], {
    cwd: '/',
    execArgv: [],
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
    env: { ...process.env, UV_THREADPOOL_SIZE: THREADS },
  });
  return new Promise((resolve, reject) => {
    let last: Told | null = null;
    child.on('message', (told: Told) => {
      if ('progress' in told) tell(told.progress);
      else last = told;
    });
    child.on('error', (error) => reject(new MeasureFailed(messageOf(error), null)));
    // Not before it has ended: only then its file is surely gone.
    child.on('exit', (code, signal) => {
      if (last !== null && 'done' in last) resolve(last.done);
      else reject(failureOf(last, `the measuring process ended (${signal ?? code})`));
    });
    child.send(order);
  });
}

function failureOf(told: Told | null, otherwise: string): MeasureFailed {
  return told !== null && 'failed' in told
    ? new MeasureFailed(told.failed, told.code)
    : new MeasureFailed(otherwise, null);
}

/** The other side: waits for one order, and takes its file away on any end that can be heard of. */
export function serveMeasuring(): void {
  let file: MeasureFile | null = null;
  const end = (code: number): void => {
    file?.remove();
    process.exit(code);
  };
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(signal, () => end(1));
  process.once('disconnect', () => end(1));
  process.once('message', (order: MeasureOrder) => {
    const progress = (told: MeasureProgress) => void (process.connected && process.send?.({ progress: told }));
    const last = (told: Told) => process.send?.(told, () => process.disconnect?.());
    const made = (mine: MeasureFile) => {
      file = mine;
    };
    measureHere(order, progress, made).then(
      (done) => last({ done }),
      (error: unknown) => last({ failed: messageOf(error), code: (error as NodeJS.ErrnoException).code ?? null }),
    );
  });
}

/** Removes what earlier measurements of this user left, as noted in the state folder; the paths of what was removed. */
export function clearLeftovers(stateDir: string): string[] {
  try {
    return removeLeftovers(nodeFs, stateDir, process.getuid?.() ?? -1);
  } catch {
    return [];
  }
}
