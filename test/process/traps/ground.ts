import { type ChildProcess, spawn } from 'node:child_process';
import {
  chmodSync,
  closeSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  realpathSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Snapshot } from '../../../src/core/present/snapshot.ts';
import { socketPath } from '../../../src/rim/system/state-files.ts';
import { decodeArguments } from '../../../src/rim/watch/protocol.ts';
import { askDaemon } from '../../../src/rim/web/ask.ts';
import { type ClipJson, media, program, until } from '../headroomd.ts';
import { run } from './machine.ts';

export interface DaemonOptions {
  /** Volumes by name, with their absolute paths. */
  volumes: Record<string, string>;
  /** Lines of the `[arrivals]` table. */
  arrivals?: readonly string[];
  /** A command that becomes the program, such as `unshare`. */
  through?: readonly string[];
  /** One that has ended, whose state this one takes over. */
  after?: Daemon;
}

/** The real program, and what it says now: asked again and again, so that many tests can look at the same time. */
export interface Daemon {
  child: ChildProcess;
  /** Folder of its state, its configuration and its logs. */
  place: string;
  snapshot(): Snapshot;
  clips(project: string): ClipJson[];
  project(name: string, volume?: string): Snapshot['projects'][number] | undefined;
  volume(name: string): Snapshot['volumes'][number] | undefined;
  arrivals(project: string, volume?: string): Snapshot['arrivals'];
  /** What it logged so far, line by line. */
  log(): LogLine[];
  /** Logged lines of one event that speak of this project or folder. */
  told(event: string, about?: string): LogLine[];
  /** The process that serves a volume's root. */
  rootProcess(path: string): number;
  end(signal?: NodeJS.Signals): Promise<number | null>;
}

export interface LogLine {
  level: number;
  msg: string;
  event?: string;
  volume?: string;
  file?: string;
  files?: number;
  unit?: string;
  stage?: string;
  reason?: string;
  evidence?: string;
  trouble?: string;
}

export interface Ground {
  folder: string;
  start(options: DaemonOptions): Promise<Daemon>;
  /** Ends what was started, undoes what was noted, newest first, and removes the folder. */
  clear(): Promise<void>;
  undo(what: () => void | Promise<void>): void;
}

/** A folder for one file of tests, readable by everybody, and the daemons started on it. */
export function ground(): Ground {
  const folder = realpathSync(mkdtempSync(join(tmpdir(), 'headroomd-traps-')));
  chmodSync(folder, 0o755);
  const undone: (() => void | Promise<void>)[] = [];
  let count = 0;

  async function start({ volumes, arrivals = [], through = [], after }: DaemonOptions): Promise<Daemon> {
    count += 1;
    const place = after?.place ?? join(folder, `daemon ${count}`);
    mkdirSync(place, { recursive: true });
    chmodSync(place, 0o777);
    const config = join(place, 'headroomd.toml');
    writeFileSync(config, configuration(volumes, arrivals));
    return launch(place, through, config, (what) => undone.push(what));
  }

  return {
    folder,
    start,
    undo: (what) => void undone.push(what),
    async clear() {
      const failures: unknown[] = [];
      for (const what of undone.splice(0).toReversed()) {
        try {
          await what();
        } catch (error) {
          failures.push(error);
        }
      }
      // What may still be mounted there is not to be removed with it.
      if (failures.length > 0) throw failures[0];
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

function configuration(volumes: Record<string, string>, arrivals: readonly string[]): string {
  const tables = Object.entries(volumes).map(
    ([name, path]) => `[[volume]]\nname = ${JSON.stringify(name)}\npath = ${JSON.stringify(path)}\nprojects = "*"\n`,
  );
  return `${tables.join('\n')}\n[arrivals]\n${arrivals.join('\n')}\n[log]\nlevel = "debug"\n`;
}

async function launch(
  place: string,
  through: readonly string[],
  config: string,
  undo: (what: () => Promise<void>) => void,
): Promise<Daemon> {
  const state = join(place, 'state');
  const earlier = readdirSync(place).filter((name) => name.startsWith('log ')).length;
  const logFile = join(place, `log ${earlier + 1}`);
  const log = openSync(logFile, 'w');
  const given = ['run', '--state', state, '--port', '0', '--config', config];
  const [command = program, ...args] = [...through, program, ...given];
  const child = spawn(command, args, { stdio: ['ignore', 'ignore', log] });
  closeSync(log);
  const logged = () => readFileSync(logFile, 'utf8');
  const looker = look(socketPath(state), child);
  const views = { ...looker.views, ...logViews(logged), ...processViews(child, looker.stop) };
  undo(async () => void (await views.end('SIGKILL')));
  await until('the daemon answers', () => looker.seen() || hasEnded(child), 60);
  if (hasEnded(child)) throw new Error(`the daemon ended with ${child.exitCode}:\n${logged()}`);
  return { child, place, ...views };
}

function hasEnded(child: ChildProcess): boolean {
  return child.exitCode !== null || child.signalCode !== null;
}

const PERIOD_MS = 150;

function look(socket: string, child: ChildProcess) {
  let snapshot: Snapshot | null = null;
  let clips: ClipJson[] = [];
  let stopped = false;
  const ask = async () => {
    try {
      const [told, known] = await Promise.all([askDaemon(socket, '/api/snapshot'), askDaemon(socket, '/api/clips')]);
      if (told === null || known === null) return;
      snapshot = told as Snapshot;
      clips = known as ClipJson[];
    } catch {
      // Not yet there, or busy: asked again.
    }
  };
  const going = (async () => {
    while (!stopped && !hasEnded(child)) {
      await ask();
      await sleep(PERIOD_MS);
    }
  })();
  const now = (): Snapshot => {
    if (snapshot === null) throw new Error('the daemon has not answered yet');
    return snapshot;
  };
  return {
    seen: () => snapshot !== null,
    async stop() {
      stopped = true;
      await going;
    },
    views: {
      snapshot: now,
      clips: (project: string) => clips.filter((clip) => clip.project === project),
      project: (name: string, volume?: string) =>
        now().projects.find((each) => each.name === name && (volume === undefined || each.volume === volume)),
      volume: (name: string) => now().volumes.find((volume) => volume.name === name),
      arrivals: (project: string, volume?: string) =>
        now().arrivals.filter(
          (arrival) => arrival.path.startsWith(`${project}/`) && (volume === undefined || arrival.volume === volume),
        ),
    },
  };
}

function logViews(logged: () => string) {
  const log = (): LogLine[] =>
    logged()
      .split('\n')
      .filter((line) => line.startsWith('{') && line.endsWith('}'))
      .map((line) => JSON.parse(line));
  const told = (event: string, about = '') =>
    log().filter((line) => line.event === event && JSON.stringify(line).includes(about));
  return { log, told };
}

function processViews(child: ChildProcess, stopLooking: () => Promise<void>) {
  return {
    async end(signal: NodeJS.Signals = 'SIGTERM') {
      if (!hasEnded(child)) {
        const ended = new Promise((resolve) => child.once('exit', resolve));
        child.kill(signal);
        await ended;
      }
      await stopLooking();
      return child.exitCode;
    },
    rootProcess(path: string): number {
      const pids = readdirSync('/proc').filter((name) => /^\d+$/.test(name));
      const serving = pids.find((pid) => servesRoot(pid, child.pid ?? 0, path));
      if (serving === undefined) throw new Error(`no process serves ${path}`);
      return Number(serving);
    },
  };
}

function servesRoot(pid: string, parent: number, path: string): boolean {
  try {
    const status = readFileSync(`/proc/${pid}/status`, 'utf8');
    if (!status.includes(`\nPPid:\t${parent}\n`)) return false;
    const args = readFileSync(`/proc/${pid}/cmdline`, 'utf8')
      .split('\0')
      .filter((arg) => arg !== '');
    return decodeArguments(args.at(-1)).root === path;
  } catch {
    return false;
  }
}

/** Content of a real clip, lengthened to so many bytes by an empty box that every reader passes over (ISO/IEC 14496-12 `free`). */
export function clipOfSize(name: string, size: number): Buffer {
  const bytes = readFileSync(join(media, name));
  const box = Buffer.alloc(size - bytes.length);
  box.writeUInt32BE(box.length, 0);
  box.write('free', 4, 'latin1');
  return Buffer.concat([bytes, box]);
}

/** Bytes of all files below a folder, each content once, as `find` tells them. */
export function bytesBelow(folder: string): number {
  const told = run('find', folder, '-type', 'f', '-printf', '%i %s\\n').trim();
  const contents = new Set(told === '' ? [] : told.split('\n'));
  return [...contents].map((line) => Number(line.split(' ')[1])).reduce((a, b) => a + b, 0);
}
