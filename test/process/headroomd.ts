import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, readFileSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import type { clipJson } from '../../src/core/present/clips-table.ts';
import type { Snapshot } from '../../src/core/present/snapshot.ts';

/** The real program as a person starts it: through its launcher, as a process of its own. */
export const program = fileURLToPath(new URL('../../src/headroomd', import.meta.url));
export const media = fileURLToPath(new URL('../fixtures/media', import.meta.url));

export type ClipJson = ReturnType<typeof clipJson>;

export interface Running {
  child: ChildProcess;
  /** What it has logged so far. */
  log(): string;
  status(): Snapshot;
  clips(project?: string): ClipJson[];
  /** Sends the signal to the daemon itself and waits for its end. */
  end(signal?: NodeJS.Signals): Promise<number | null>;
}

export interface Bench {
  folder: string;
  volume: string;
  state: string;
  start(args?: string[], env?: Record<string, string>): Promise<Running>;
  call(...args: string[]): { status: number | null; stdout: string; stderr: string };
  clear(): Promise<void>;
}

/** A temporary volume folder and state folder; `clear` ends what was started and removes both. */
export function bench(): Bench {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-process-'));
  const volume = join(folder, 'stripe');
  const state = join(folder, 'state');
  const started: Running[] = [];

  function call(...args: string[]) {
    const done = spawnSync(program, [...args, ...(args[0] === 'check' ? [] : ['--state', state])], {
      encoding: 'utf8',
    });
    return { status: done.status, stdout: done.stdout, stderr: done.stderr };
  }

  async function start(args: string[] = [volume], env: Record<string, string> = {}): Promise<Running> {
    // A file, not a pipe: the calls below wait without an event loop, and must see what was logged meanwhile.
    const logFile = join(folder, `log-${started.length}`);
    const log = openSync(logFile, 'w');
    const child = spawn(program, ['run', '--state', state, '--port', '0', ...args], {
      stdio: ['ignore', 'ignore', log],
      env: { ...process.env, ...env },
    });
    closeSync(log);
    const logged = () => readFileSync(logFile, 'utf8');
    const running: Running = {
      child,
      log: logged,
      status: () => JSON.parse(call('status', '--json').stdout),
      clips: (project) =>
        JSON.parse(call('clips', '--json', ...(project === undefined ? [] : ['--project', project])).stdout),
      async end(signal = 'SIGTERM') {
        if (child.exitCode === null && child.signalCode === null) {
          child.kill(signal);
          await new Promise((resolve) => child.once('exit', resolve));
        }
        return child.exitCode;
      },
    };
    started.push(running);
    await until('the daemon answers', () => child.exitCode !== null || call('status', '--json').status === 0, 20);
    if (child.exitCode !== null) throw new Error(`the daemon ended with ${child.exitCode}:\n${logged()}`);
    return running;
  }

  return {
    folder,
    volume,
    state,
    start,
    call,
    async clear() {
      for (const running of started) await running.end('SIGKILL');
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** Waits for a condition that real processes bring about; fails with `what` when it has not come in time. */
export async function until(what: string, holds: () => boolean, seconds = 30): Promise<void> {
  const end = performance.now() + seconds * 1000;
  while (!holds()) {
    if (performance.now() > end) throw new Error(`not within ${seconds} s: ${what}`);
    await sleep(100);
  }
}

/** Writes a file as a card copy does: in parts, with pauses, one writer that keeps it open. */
export async function copySlowly(from: string, to: string, parts = 4, pauseMs = 150): Promise<void> {
  const bytes = readFileSync(from);
  const fd = openSync(to, 'w');
  try {
    for (let part = 0; part < parts; part++) {
      const at = Math.floor((bytes.length * part) / parts);
      writeSync(fd, bytes, at, Math.floor((bytes.length * (part + 1)) / parts) - at);
      await sleep(pauseMs);
    }
  } finally {
    closeSync(fd);
  }
}
