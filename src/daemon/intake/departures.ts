import { messageOf } from '../../core/fault.ts';
import { baseName, dirName } from '../../core/intake/path-text.ts';
import { isBelow } from '../../core/intake/settle-changes.ts';
import type { PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type { RootEvent, RootPort } from '../../core/root-port.ts';
import { askMissing } from './ask-missing.ts';

/**
 * Paths that seem to be gone. They are not taken for it at once: a file that moved is soon found under its new path, and
 * what an event or a listing told may be over already.
 */
export interface Departures {
  /** An event said so; of a file or of a folder with all below it. */
  hinted(paths: readonly PathText[]): void;
  /** A listing no longer had these files, which lie in its folder or below it. */
  unlisted(listing: Extract<RootEvent, { type: 'listing' }>, files: readonly PathText[]): void;
  /** Something else waits for the same moment. */
  wait(): void;
  /** Files from these paths were found elsewhere: more of what lies in the same folders may be. */
  foundElsewhere(paths: readonly PathText[]): void;
  /**
   * Those that are really gone, once the time has come; all others are dropped, as `back`. `null`: not yet, or the volume
   * cannot be asked now: later.
   */
  resolve(): Promise<Resolved | null>;
  stop(): void;
}

export interface Resolved {
  /** With all below them. */
  gone: PathText[];
  /** Only these files: something else may have their name now. */
  files: PathText[];
  back: PathText[];
}

export interface DeparturesDeps {
  volume: string;
  root: Pick<RootPort, 'missing' | 'inspect'>;
  clock: Clock;
  log: Log;
  /** Whether every folder was read since the root was there: before, a file may still be found under another path. */
  complete: () => boolean;
  /** Has `resolve` called in its turn. */
  due: () => void;
}

interface Departure {
  /** Of a folder that a listing no longer had: the files that are known in it. */
  files: PathText[];
  unlisted: boolean;
  /** Its folder has the name in another spelling: where case does not count, the old one still seems to be there. */
  respelled: boolean;
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
    const files = found.filter(([, departure]) => departure.files.length === 0).map(([path]) => path);
    if (files.length === 0) return gone;
    for (const { path, stat, error } of await root.inspect(files)) {
      if (stat === null && error === null) gone.push(path);
    }
    return gone;
  }

  async function verify(asked: readonly [PathText, Departure][]): Promise<Resolved> {
    const away = await askMissing(
      root,
      asked.map(([path]) => path),
    );
    const [gone = [], there = []] = [true, false].map((wanted) =>
      asked.filter(([path, { respelled }]) => (away.has(path) || respelled) === wanted),
    );
    const files = await lookAgain(there.filter(([, { unlisted }]) => unlisted));
    const known = new Set(files);
    return {
      gone: topmost(new Set(gone.map(([path]) => path))),
      files,
      back: there.map(([path]) => path).filter((path) => !known.has(path)),
    };
  }

  return {
    hinted(paths) {
      for (const path of paths) {
        if (!departures.has(path)) departures.set(path, { files: [], unlisted: false, respelled: false });
      }
      wait();
    },
    unlisted({ dir, files: listed, dirs }, files) {
      if (files.length === 0) return;
      const spellings = new Map([...listed.map(({ path }) => path), ...dirs].map((path) => [spelling(path), path]));
      for (const [path, inside] of Map.groupBy(files, (file) => entryOf(dir, file))) {
        const respelled = (spellings.get(spelling(path)) ?? path) !== path;
        departures.set(path, { files: inside[0] === path ? [] : inside, unlisted: true, respelled });
      }
      wait();
    },
    wait,
    foundElsewhere(paths) {
      if (departures.size === 0) return;
      const tops = new Set(departures.keys());
      if (paths.some((path) => isBelow(path, tops))) postpone(Math.max(dueAt, clock.ticks() + waitMs));
    },
    async resolve() {
      if (since === null || !deps.complete()) return null;
      if (clock.ticks() < dueAt) {
        // Asked before its time, or by a timer that was a little early.
        postpone(dueAt);
        return null;
      }
      const asked = [...departures];
      try {
        const resolved = await verify(asked);
        for (const [path] of asked) departures.delete(path);
        since = null;
        return resolved;
      } catch (error) {
        log.debug(
          { volume: deps.volume, error: messageOf(error) },
          'what seems gone cannot be looked for, tried again',
        );
        postpone(clock.ticks() + retryMs);
        return null;
      }
    },
    stop: () => cancel(),
  };
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
