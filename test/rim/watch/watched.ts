import { mkdtempSync, realpathSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { FileStat, PathText } from '../../../src/core/model.ts';
import type { Clock, Log } from '../../../src/core/ports.ts';
import type { RootEvent, RootState } from '../../../src/core/root-port.ts';
import { type RemoteRoot, type RemoteRootOptions, remoteRoot } from '../../../src/rim/watch/remote-root.ts';

export const ENTRY = fileURLToPath(new URL('./root-entry.ts', import.meta.url));

export const clock: Clock = {
  now: () => Date.now(),
  ticks: () => performance.now(),
  after: (ms, run) => {
    const timer = setTimeout(run, ms);
    return () => clearTimeout(timer);
  },
};

export const silent: Log = { debug() {}, info() {}, warn() {}, error() {} };

export function temporaryFolder(): string {
  return realpathSync(mkdtempSync(join(tmpdir(), 'headroomd-watch-')));
}

/** What a listener that believes every event knows: the files by path, and how it came to know. */
export class Picture {
  readonly events: RootEvent[] = [];
  readonly files = new Map<PathText, FileStat>();
  readonly seenAt = new Map<PathText, number>();
  state: RootState | null = null;
  #wake: (() => void)[] = [];

  take(event: RootEvent): void {
    this.events.push(event);
    if (event.type === 'state') this.state = event.state;
    if (event.type === 'listing') this.#takeListing(event);
    if (event.type === 'files') for (const file of event.files) this.#put(file);
    if (event.type === 'gone')
      for (const path of event.paths) this.#drop((file) => file === path || file.startsWith(`${path}/`));
    for (const wake of this.#wake.splice(0)) wake();
  }

  count(type: RootEvent['type']): number {
    return this.events.filter((event) => event.type === type).length;
  }

  paths(): PathText[] {
    return [...this.files.keys()].sort();
  }

  /** Waits until a condition holds; fails with what is known after `ms`. */
  async until(what: string, holds: () => boolean, ms = 10_000): Promise<void> {
    const end = performance.now() + ms;
    while (!holds()) {
      const left = end - performance.now();
      if (left <= 0) throw new Error(`not within ${ms} ms: ${what}; ${this.files.size} files, state ${this.state}`);
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, left);
        this.#wake.push(() => {
          clearTimeout(timer);
          resolve();
        });
      });
    }
  }

  #takeListing({ dir, files, dirs, unreadable }: Extract<RootEvent, { type: 'listing' }>): void {
    const prefix = dir === '' ? '' : `${dir}/`;
    const kept = new Set([...files.map(({ path }) => path), ...unreadable.map(({ path }) => path)]);
    if (!kept.has(dir)) {
      this.#drop((path) => {
        if (!path.startsWith(prefix) || kept.has(path)) return false;
        const name = path.slice(prefix.length);
        return !name.includes('/') || !dirs.includes(prefix + name.slice(0, name.indexOf('/')));
      });
    }
    for (const file of files) this.#put(file);
  }

  #put(file: FileStat): void {
    this.files.set(file.path, file);
    if (!this.seenAt.has(file.path)) this.seenAt.set(file.path, performance.now());
  }

  #drop(away: (path: PathText) => boolean): void {
    for (const path of this.files.keys()) if (away(path)) this.files.delete(path);
  }
}

export interface Watched {
  root: RemoteRoot;
  folder: string;
  picture: Picture;
  end(): Promise<void>;
}

/** A real root process on a folder of its own, started and swept unless `ready` is false. */
export async function watched(over: Partial<RemoteRootOptions> = {}, ready = true): Promise<Watched> {
  const folder = over.root ?? temporaryFolder();
  const settings = { sweepEvery: 10, fullSweepEvery: 900 };
  const root = remoteRoot({ root: folder, settings, entry: ENTRY, clock, log: silent, ...over });
  const picture = new Picture();
  root.start((event) => picture.take(event));
  const end = async (): Promise<void> => {
    await root.stop();
    if (over.root === undefined) rmSync(folder, { recursive: true, force: true });
  };
  if (ready) {
    try {
      // From then on every folder is watched.
      await picture.until('the first sweep', () => picture.count('swept') > 0);
    } catch (error) {
      await end();
      throw error;
    }
  }
  return { root, folder, picture, end };
}
