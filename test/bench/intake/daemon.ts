import { type ChildProcess, spawn } from 'node:child_process';
import { closeSync, openSync, readFileSync, readSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Snapshot } from '../../../src/core/present/snapshot.ts';
import { socketPath } from '../../../src/rim/system/state-files.ts';
import { askDaemon } from '../../../src/rim/web/ask.ts';
import { program } from '../../process/headroomd.ts';

/** One line of the log. */
export interface Told {
  event: string;
  time: string;
  [field: string]: unknown;
}

export interface Daemon {
  pid: number;
  /** When it was started, as `performance.now()` tells. */
  startedAt: number;
  /** The lines of its log that tell of this event. */
  told(event: string): readonly Told[];
  /** `null` while it does not answer. */
  snapshot(): Promise<Snapshot | null>;
  /** Waits until it has read every folder once. */
  swept(seconds?: number): Promise<void>;
  end(signal?: NodeJS.Signals): Promise<void>;
}

/** The real program on these volumes; `state` is its state folder, `${state}.log` its log. */
export async function startDaemon(volumes: readonly string[], state: string): Promise<Daemon> {
  const logFile = `${state}.log`;
  const log = openSync(logFile, 'w');
  const startedAt = performance.now();
  const child = spawn(program, ['run', '--state', state, '--port', '0', ...volumes], {
    stdio: ['ignore', 'ignore', log],
  });
  closeSync(log);
  const pid = await started(child);
  const told = eventsIn(logFile);
  return {
    pid,
    startedAt,
    told,
    snapshot: async () => (await askDaemon(socketPath(state), '/api/snapshot')) as Snapshot | null,
    async swept(seconds = 300) {
      await whenTrue('every folder is read', () => ended(child, logFile) || told('swept').length >= volumes.length, {
        seconds,
      });
    },
    end: (signal) => end(child, signal),
  };
}

/** The lines that tell of an event; of a log that grows, only what is new is read each time. */
function eventsIn(logFile: string): (event: string) => readonly Told[] {
  const fd = openSync(logFile, 'r');
  const chunk = Buffer.alloc(1 << 16);
  const byEvent = new Map<string, Told[]>();
  let rest = '';
  return (event) => {
    for (let read = readSync(fd, chunk); read > 0; read = readSync(fd, chunk)) {
      const lines = (rest + chunk.toString('latin1', 0, read)).split('\n');
      rest = lines.pop() ?? '';
      for (const line of lines) {
        if (!line.includes('"event":')) continue;
        const told = JSON.parse(Buffer.from(line, 'latin1').toString('utf8')) as Told;
        byEvent.getOrInsertComputed(told.event, () => []).push(told);
      }
    }
    return byEvent.get(event) ?? [];
  };
}

/** Throws when it is not running any more: what is waited for will not come. */
function ended(child: ChildProcess, logFile: string): false {
  if (child.exitCode === null && child.signalCode === null) return false;
  throw new Error(`the daemon ended with ${child.exitCode ?? child.signalCode}: ${readFileSync(logFile, 'utf8')}`);
}

export async function started(child: ChildProcess): Promise<number> {
  await new Promise<void>((resolve, reject) => {
    child.once('spawn', resolve);
    child.once('error', reject);
  });
  return child.pid ?? Number.NaN;
}

/** Ends a process that was started here, and waits until it has. */
export async function end(child: ChildProcess, signal: NodeJS.Signals = 'SIGTERM'): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  const gone = new Promise((resolve) => child.once('exit', resolve));
  child.kill(signal);
  await gone;
}

/** Waits for a condition; fails with `what` when it has not come in time. */
export async function whenTrue(
  what: string,
  holds: () => boolean | Promise<boolean>,
  { seconds = 60, everyMs = 20 }: { seconds?: number; everyMs?: number } = {},
): Promise<void> {
  const until = performance.now() + seconds * 1000;
  while (!(await holds())) {
    if (performance.now() > until) throw new Error(`not within ${seconds} s: ${what}`);
    await sleep(everyMs);
  }
}
