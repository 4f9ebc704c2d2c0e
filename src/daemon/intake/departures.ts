import { messageOf } from '../../core/fault.ts';
import { compareSeen } from '../../core/intake/compare.ts';
import { baseName, dirName } from '../../core/intake/path-text.ts';
import { isBelow } from '../../core/intake/settle-changes.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type { RootEvent, RootPort } from '../../core/root-port.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import { askMissing } from './ask-missing.ts';

/**
 * Paths that seem to be gone. They are not taken for it at once: a file that moved is soon found under its new path, and
 * what an event or a listing told may be over already.
 */
export interface Departures {
  /** An event said so; of a file or of a folder with all below it. */
  hinted(paths: readonly PathText[]): void;
  /** A listing no longer had these files and folders, which lie in its folder; of a folder that is a file now, its files. */
  unlisted(listing: Extract<RootEvent, { type: 'listing' }>, paths: readonly PathText[]): void;
  /** These very paths were seen. */
  seen(paths: Iterable<PathText>): void;
  /** Something else waits for the same moment. */
  wait(): void;
  /** Files from these paths were found elsewhere: more of what lies in the same folders may be. */
  foundElsewhere(paths: readonly PathText[]): void;
  /**
   * Once the time has come, looks for all of them and hands over what was found; then they are dropped. Does nothing when it
   * is not yet time, or the volume cannot be asked now: later. Rejects as `use` does, and keeps them all.
   */
  resolve(use: (resolved: Resolved) => Promise<void>): Promise<void>;
  stop(): void;
}

export interface Resolved {
  /** Really gone, with all below them. */
  gone: PathText[];
  /** Only these files: something else may have their name now. */
  files: PathText[];
  /** They seem to be there. */
  back: PathText[];
}

export interface DeparturesDeps {
  volume: string;
  root: Pick<RootPort, 'missing' | 'inspect'>;
  catalogue: Pick<CataloguePort, 'filesBelow'>;
  clock: Clock;
  log: Log;
  /** Whether every folder was read since the root was there: before, a file may still be found under another path. */
  complete: () => boolean;
  /** Has `resolve` called in its turn. */
  due: () => void;
}

interface Departure {
  /** Of a folder that is a file now: the files that are known in it. */
  files: PathText[];
  unlisted: boolean;
  /** Its folder has this name in another spelling: where case does not count, the old one still seems to be there. */
  twin: PathText | null;
}

const waitMs = 2_000;
const mostMs = 10_000;
const retryMs = 5_000;

export function createDepartures(deps: DeparturesDeps): Departures {
  const { clock, log, root } = deps;
  const departures = new Map<PathText, Departure>();
  let since: number | null = null;
  let dueAt = 0;
  let cancel = () => {};

  function postpone(until: number): void {
    dueAt = until;
    cancel();
    cancel = clock.after(Math.max(0, dueAt - clock.ticks()), deps.due);
  }

  function wait(): void {
    const now = clock.ticks();
    since ??= now;
    // What goes on for long (a large folder is being deleted) is told in parts.
    postpone(Math.max(dueAt, Math.min(now + waitMs, since + mostMs)));
  }

  /** What a listing no longer had although something has its name: a folder in place of a file, or the other way round. */
  async function lookAgain(found: readonly [PathText, Departure][]): Promise<PathText[]> {
    const gone = [
      ...(await askMissing(
        root,
        found.flatMap(([, { files }]) => files),
      )),
    ];
    const names = found.filter(([, departure]) => departure.files.length === 0).map(([path]) => path);
    if (names.length === 0) return gone;
    const folders: PathText[] = [];
    for (const { path, stat, error } of await root.inspect(names)) {
      if (stat !== null || error !== null) continue;
      gone.push(path);
      folders.push(path);
    }
    // A folder that is there again may have only a part of what it had.
    for (let after: string | null = ''; after !== null; ) {
      const part = await deps.catalogue.filesBelow(deps.volume, folders, null, after === '' ? null : after);
      const below = part.files.map(({ path }) => path);
      for (const path of await askMissing(root, below)) gone.push(path);
      after = part.next;
    }
    return gone;
  }

  /** Whether two spellings lead to one file, or folder: then the listing told which of them is its name. */
  async function isOneName(path: PathText, twin: PathText): Promise<boolean> {
    const pair = await stats(path, twin);
    if (pair !== null) return isOneFile(...pair);
    const known = await deps.catalogue.filesBelow(deps.volume, [path]);
    const inside = known.files.map((file) => file.path).filter((file) => file !== path);
    const away = await askMissing(root, inside);
    const sample = inside.find((file) => !away.has(file));
    if (sample === undefined) return false;
    const below = await stats(sample, twin + sample.slice(path.length));
    return below !== null && isOneFile(...below);
  }

  async function stats(...pair: [PathText, PathText]): Promise<[FileStat, FileStat] | null> {
    const [one, other] = (await root.inspect(pair)).map(({ stat }) => stat ?? null);
    return one === null || one === undefined || other === null || other === undefined ? null : [one, other];
  }

  async function verify(asked: readonly [PathText, Departure][]): Promise<Resolved> {
    const away = await askMissing(
      root,
      asked.map(([path]) => path),
    );
    for (const [path, { twin }] of asked) {
      if (twin !== null && !away.has(path) && (await isOneName(path, twin))) away.add(path);
    }
    const [gone = [], there = []] = [true, false].map((wanted) => asked.filter(([path]) => away.has(path) === wanted));
    const files = await lookAgain(there.filter(([, { unlisted }]) => unlisted));
    const known = new Set(files);
    return {
      gone: topmost(new Set(gone.map(([path]) => path))),
      files,
      back: there.map(([path]) => path).filter((path) => !known.has(path)),
    };
  }

  /** `null`: nothing can be said of them now, it is tried again. */
  async function find(asked: readonly [PathText, Departure][]): Promise<Resolved | null> {
    try {
      return await verify(asked);
    } catch (error) {
      log.debug({ volume: deps.volume, error: messageOf(error) }, 'what seems gone cannot be looked for, tried again');
      postpone(clock.ticks() + retryMs);
      return null;
    }
  }

  return {
    hinted(paths) {
      for (const path of paths) {
        if (!departures.has(path)) departures.set(path, { files: [], unlisted: false, twin: null });
      }
      wait();
    },
    unlisted({ dir, files: listed, dirs }, paths) {
      if (paths.length === 0) return;
      const spellings = new Map([...listed.map(({ path }) => path), ...dirs].map((path) => [spelling(path), path]));
      for (const [path, inside] of Map.groupBy(paths, (each) => entryOf(dir, each))) {
        const twin = spellings.get(spelling(path)) ?? path;
        const files = inside[0] === path ? [] : inside;
        departures.set(path, { files, unlisted: true, twin: twin === path ? null : twin });
      }
      wait();
    },
    seen(paths) {
      if (departures.size === 0) return;
      for (const path of paths) {
        const departure = departures.get(path);
        if (departure !== undefined) departure.twin = null;
      }
    },
    wait,
    foundElsewhere(paths) {
      if (departures.size === 0) return;
      const tops = new Set(departures.keys());
      if (paths.some((path) => isBelow(path, tops))) postpone(Math.max(dueAt, clock.ticks() + waitMs));
    },
    async resolve(use) {
      if (since === null || !deps.complete()) return;
      if (clock.ticks() < dueAt) {
        // Asked before its time, or by a timer that was a little early.
        postpone(dueAt);
        return;
      }
      const asked = [...departures];
      const resolved = await find(asked);
      if (resolved === null) return;
      await use(resolved);
      for (const [path] of asked) departures.delete(path);
      since = null;
    },
    stop: () => cancel(),
  };
}

/**
 * Of inodes that say nothing (0) the rest decides: two files that were written alike to the same nanosecond are taken for
 * one. A content with several names may have both of these.
 */
function isOneFile(one: FileStat, other: FileStat): boolean {
  if (one.nlink > 1 || other.nlink > 1) return false;
  return one.ino === other.ino && one.dev === other.dev && compareSeen(one, other).verdict === 'same';
}

/** What lies in `dir` itself and leads to `path`. */
function entryOf(dir: PathText, path: PathText): PathText {
  const end = path.indexOf('/', dir === '' ? 0 : dir.length + 1);
  return end === -1 ? path : path.slice(0, end);
}

/** The same for names that a file system without case, or one that composes letters, takes for one. */
function spelling(path: PathText): string {
  return `${dirName(path)}/${baseName(path).normalize('NFC').toLowerCase()}`;
}

function topmost(paths: ReadonlySet<PathText>): PathText[] {
  return [...paths].filter((path) => !isBelow(dirName(path), paths)).sort();
}
