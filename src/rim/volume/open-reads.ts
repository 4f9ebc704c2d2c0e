import { fromBytes } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';

/** The part of `node:fs` that looking takes. */
export interface OpenFs {
  readdirSync(path: string): string[];
  readlinkSync(path: string, options: { encoding: 'buffer' }): Buffer;
  readFileSync(path: string, encoding: 'utf8'): string;
}

export interface WatchedFolder {
  name: string;
  /** Absolute, without links. */
  path: string;
}

interface Seen {
  position: number;
  /** Bytes that the process had read in all, of whatever. */
  read: number;
}

/** A process that reads at fixed places of a file (pread, as players may) moves no position: it must read so much to count. */
const READS_BPS = 1_000_000;
/** Of a process that has more files open than this, such reading cannot be told apart: which of them it reads is not seen. */
const MOST_AT_PLACES = 12;
/** The loop is given back after so long. */
const SLICE_MS = 4;
const ACCESS_MODE = 0o3;

/**
 * Files below the folders that processes are reading: open for reading alone, and read from since the last look. A look reads /proc
 * alone, nothing on the volumes. Of other people's processes nothing is seen, nor of files that are mapped into memory.
 */
export class OpenReads {
  readonly #fs: OpenFs;
  readonly #ticks: () => number;
  readonly #ownPids: () => ReadonlySet<string>;
  #before = new Map<string, Seen>();
  #beforeAt = 0;

  constructor(fs: OpenFs, ticks: () => number, ownPids: () => ReadonlySet<string>) {
    this.#fs = fs;
    this.#ticks = ticks;
    this.#ownPids = ownPids;
  }

  /** Paths by the name of the folder that they lie below. */
  async look(folders: readonly WatchedFolder[]): Promise<Map<string, Set<PathText>>> {
    const found = new Map(folders.map(({ name }) => [name, new Set<PathText>()]));
    const now = new Map<string, Seen>();
    const at = this.#ticks();
    const seconds = (at - this.#beforeAt) / 1000;
    const own = this.#ownPids();
    let sliceEnds = at + SLICE_MS;
    for (const pid of this.#try(() => this.#fs.readdirSync('/proc'), [])) {
      if (!/^\d+$/.test(pid) || own.has(pid)) continue;
      const open = this.#openOf(pid, folders);
      for (const { folder, path, descriptor } of open) {
        const seen = this.#stateOf(pid, descriptor);
        const key = `${pid} ${descriptor} ${folder} ${path}`;
        if (seen === null) continue;
        now.set(key, seen);
        const before = this.#before.get(key);
        const atPlaces = open.length <= MOST_AT_PLACES && readsAtPlaces(before, seen, seconds);
        if (moved(before, seen) || atPlaces) found.get(folder)?.add(path);
      }
      if (this.#ticks() > sliceEnds) {
        await new Promise((resolve) => setImmediate(resolve));
        sliceEnds = this.#ticks() + SLICE_MS;
      }
    }
    this.#before = now;
    this.#beforeAt = at;
    return found;
  }

  #openOf(pid: string, folders: readonly WatchedFolder[]): { folder: string; path: PathText; descriptor: string }[] {
    return this.#try(() => this.#fs.readdirSync(`/proc/${pid}/fd`), []).flatMap((descriptor) => {
      const target = this.#try(
        () => this.#fs.readlinkSync(`/proc/${pid}/fd/${descriptor}`, { encoding: 'buffer' }),
        null,
      );
      if (target === null) return [];
      const text = fromBytes(target);
      return folders
        .filter(({ path }) => text.startsWith(`${path}/`))
        .map(({ name, path }) => ({ folder: name, path: text.slice(path.length + 1), descriptor }));
    });
  }

  /** `null`: it may be written, or is gone. */
  #stateOf(pid: string, descriptor: string): Seen | null {
    const info = this.#try(() => this.#fs.readFileSync(`/proc/${pid}/fdinfo/${descriptor}`, 'utf8'), '');
    const position = /^pos:\s*(\d+)/m.exec(info)?.[1];
    const flags = /^flags:\s*([0-7]+)/m.exec(info)?.[1];
    if (position === undefined || flags === undefined) return null;
    if ((Number.parseInt(flags, 8) & ACCESS_MODE) !== 0) return null;
    const io = this.#try(() => this.#fs.readFileSync(`/proc/${pid}/io`, 'utf8'), '');
    return { position: Number(position), read: Number(/^rchar:\s*(\d+)/m.exec(io)?.[1] ?? 0) };
  }

  /** Processes and their files come and go while one looks. */
  #try<T>(look: () => T, otherwise: T): T {
    try {
      return look();
    } catch {
      return otherwise;
    }
  }
}

function moved(before: Seen | undefined, now: Seen): boolean {
  return before === undefined ? now.position > 0 : now.position !== before.position;
}

function readsAtPlaces(before: Seen | undefined, now: Seen, seconds: number): boolean {
  return before !== undefined && now.position === 0 && now.read - before.read >= READS_BPS * seconds;
}
