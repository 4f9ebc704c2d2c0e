import { spawn } from 'node:child_process';
import { lstatSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';
import { expect } from 'vitest';
import type { CopyEnd, CopyItem, CopyOutcome, CopyPort, Pace } from '../../../src/core/backup/copy-port.ts';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import { createCopyPort } from '../../../src/rim/backup/copy-port.ts';
import { type CopyProcess, forkCopyProcess } from '../../../src/rim/backup/copy-process.ts';
import type { ToCopy } from '../../../src/rim/backup/protocol.ts';
import { toAbsolute } from '../../../src/rim/base/byte-path.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';

export const MARKER = '.headroomd-shelf';
export const FULL_SPEED: Pace = { paused: false, ceilingBps: null };

export const copyPort = (): CopyPort => createCopyPort({ clock: systemClock });

/** A working volume with footage, in a temporary folder, and a shelf wherever that is. */
export interface JobGround {
  volume: string;
  shelf: string;
  items: CopyItem[];
  /** Makes a source file, and the item for it; its target is the same path. */
  add(path: string | Buffer, content: Buffer): CopyItem;
  /** The item as its source is now. */
  listed(item: CopyItem): CopyItem;
  remove(): void;
}

export const guardOf = (root: string) => ({ root, marker: MARKER, content: 'shelf-a', device: null });

/** `shelf`: a mounted folder; without it one beside the volume. */
export function jobGround(shelf?: string): JobGround {
  const place = mkdtempSync(join(tmpdir(), 'headroomd-copy-'));
  const volume = join(place, 'stripe');
  const root = shelf ?? join(place, 'shelf-a');
  mkdirSync(volume);
  mkdirSync(root, { recursive: true });
  writeFileSync(join(root, MARKER), 'shelf-a');
  const items: CopyItem[] = [];
  const listed = (item: CopyItem): CopyItem => {
    const stat = lstatSync(toAbsolute(volume, item.source), { bigint: true });
    return { ...item, size: Number(stat.size), mtimeNs: stat.mtimeNs, ctimeNs: stat.ctimeNs, inode: stat.ino };
  };
  return {
    ...{ volume, shelf: root, items, listed },
    add(path, content) {
      const text = typeof path === 'string' ? path : fromBytes(path);
      const absolute = toAbsolute(volume, text);
      mkdirSync(typeof absolute === 'string' ? dirname(absolute) : volume, { recursive: true });
      writeFileSync(absolute, content);
      const bare = { id: items.length, source: text, target: text, size: 0, mtimeNs: 0n, ctimeNs: 0n, inode: 0n };
      const item = listed(bare);
      items.push(item);
      return item;
    },
    remove: () => rmSync(place, { recursive: true, force: true }),
  };
}

/** Bytes that no two calls give alike; from an xorshift generator, so that a failure comes again. */
export function footage(bytes: number, seed: number): Buffer {
  const words = new Uint32Array(Math.ceil(bytes / 4));
  let state = seed * 2654435761 + 1;
  for (let at = 0; at < words.length; at++) {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    words[at] = state;
  }
  return Buffer.from(words.buffer, 0, bytes);
}

export interface Done {
  end: CopyEnd;
  outcomes: CopyOutcome[];
}

/** Runs one job to its end. */
export async function copyAll(ground: JobGround, port: CopyPort = copyPort(), items = ground.items): Promise<Done> {
  const outcomes: CopyOutcome[] = [];
  const job = { volume: ground.volume, shelf: guardOf(ground.shelf), pace: FULL_SPEED };
  const settled = (batch: CopyOutcome[]) => void outcomes.push(...batch);
  const end = await port.copy(job, items, { settled }, new AbortController().signal).end;
  return { end, outcomes: outcomes.sort((a, b) => a.id - b.id) };
}

/** A port whose process has strace(1) with these options on it, from when it waits for its order. */
export function traced(...options: string[]): CopyPort {
  const start = (): CopyProcess => {
    const started = forkCopyProcess({ execArgv: [] });
    const waiting: ToCopy[] = [];
    let isTraced = false;
    started.onMessage(({ type }) => {
      if (type !== 'ready') return;
      void attach(started.pid ?? 0, options).then(() => {
        isTraced = true;
        for (const message of waiting) started.send(message);
      });
    });
    return { ...started, send: (message) => (isTraced ? started.send(message) : void waiting.push(message)) };
  };
  return createCopyPort({ clock: systemClock, start });
}

/** Injections count by themselves in each thread. `paths`: only calls on these. */
export function injecting(injections: string[], paths: string[] = []): CopyPort {
  const options = [...injections.map((one) => `--inject=${one}`), ...paths.flatMap((path) => ['-P', path])];
  return traced('-o', '/dev/null', ...options);
}

async function attach(pid: number, options: string[]): Promise<void> {
  spawn('strace', ['-f', '-qq', ...options, '-p', String(pid)], { stdio: 'ignore' });
  const threads = () => readdirSync(`/proc/${pid}/task`);
  const isTraced = (thread: string) =>
    !/^TracerPid:\t0$/m.test(readFileSync(`/proc/${pid}/task/${thread}/status`, 'utf8'));
  while (!threads().every(isTraced)) await delay(5);
}

/** What lies on a shelf: paths below its root, without the marker and what mkfs makes. */
export function onShelf(root: string): string[] {
  return readdirSync(root, { recursive: true, withFileTypes: true, encoding: 'utf8' })
    .filter((entry) => !entry.isDirectory())
    .map((entry) => join(entry.parentPath, entry.name).slice(root.length + 1))
    .filter((path) => path !== MARKER)
    .sort();
}

/** That every file under a target's name is whole, that what counts is there, and that sources are as they were. */
export function expectHonest(ground: JobGround, { outcomes }: Done): void {
  for (const item of ground.items) {
    expect(ground.listed(item)).toEqual(item);
    const source = readFileSync(toAbsolute(ground.volume, item.source));
    const copy = readIfThere(toAbsolute(ground.shelf, item.target));
    if (copy !== null) expect(copy.equals(source), `${item.target} is whole`).toBe(true);
    const outcome = outcomes.find(({ id }) => id === item.id);
    if (outcome?.is === 'copied') expect(copy, `${item.target} is there`).not.toBeNull();
    if (outcome?.is === 'failed') {
      expect(outcome.trouble.message).not.toBe('');
      expect(outcome.trouble.advice).not.toBe('');
    }
  }
}

function readIfThere(path: string | Buffer): Buffer | null {
  try {
    return readFileSync(path);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    throw error;
  }
}
