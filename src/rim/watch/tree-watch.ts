import { basename } from 'node:path';
import { watch } from 'chokidar';
import { fromBytes, hasEscapes, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';

export interface TreeWatchOptions {
  /** Absolute, without links. */
  base: string;
  device: bigint;
  skip: (path: PathText) => boolean;
  /** Something happened to this name. */
  onTouched: (path: PathText) => void;
  /** Something happened in this folder; to what, the event cannot say. */
  onUnclear: (dir: PathText) => void;
  /** Every folder found at the start is watched. */
  onReady: () => void;
  onError: (error: NodeJS.ErrnoException) => void;
}

export interface TreeWatch {
  /** No call comes after this. Does not wait for what hangs. */
  close(): void;
}

const REWATCHED_MS = 300;

/** How an invalid byte of a name arrives in an event: the name itself is lost. */
const LOST_BYTES = '\uFFFD';

/**
 * Watches the folders of a tree, one inotify watch for each. Files are left out of the package's own picture (it would
 * keep memory for each and read them all at the start); their names come with the raw events. A new folder is watched
 * before its `addDir` handlers' next turn, so what is read from it then is not older than its watch.
 *
 * Not seen: folders whose name is no UTF-8, and all below them. The passes over folder times find those.
 */
export function watchTree(options: TreeWatchOptions): TreeWatch {
  const { base } = options;
  const relative = (path: string): PathText | null => relativeTo(base, path);
  const ignored = (path: string, stats?: { isDirectory(): boolean; dev: number }): boolean => {
    if (stats !== undefined && !(stats.isDirectory() && BigInt(stats.dev) === options.device)) return true;
    const inside = relative(path);
    return inside !== null && inside !== '' && options.skip(inside);
  };
  const watcher = watch(base, {
    ignored,
    ignoreInitial: true,
    followSymlinks: false,
    atomic: false,
    persistent: true,
    backend: 'native',
  });
  let closed = false;
  watcher.on('raw', (event: string, name: unknown, details: unknown) => {
    const path = watchedPath(details);
    const dir = relative(path);
    if (dir === null) return;
    // A folder's own removal comes under its own name. If it was made again at once, with the same inode even, it has
    // no watch until the package notices: what is in it by then is read.
    if (event === 'rename' && name === basename(path)) {
      setTimeout(() => {
        if (!closed) options.onUnclear(dir);
      }, REWATCHED_MS);
    }
    if (typeof name !== 'string' || name.includes(LOST_BYTES)) options.onUnclear(dir);
    else if (name !== '') touched(joinPath(dir, toPathText(name)));
  });
  const touched = (path: PathText): void => {
    if (!options.skip(path)) options.onTouched(path);
  };
  watcher.on('addDir', (path) => {
    const dir = relative(path);
    if (dir !== null && dir !== '') touched(dir);
  });
  watcher.on('ready', options.onReady);
  watcher.on('error', (error) => options.onError(error as NodeJS.ErrnoException));
  return {
    close: () => {
      closed = true;
      watcher.removeAllListeners();
      // An emitter without an error listener throws.
      watcher.on('error', () => {});
      void watcher.close().catch(() => {});
    },
  };
}

function watchedPath(details: unknown): string {
  return (details as { watchedPath?: string } | null)?.watchedPath ?? '';
}

/** The path below the root, empty for the root, `null` for anything outside. */
function relativeTo(base: string, path: string): PathText | null {
  if (path === base) return '';
  const prefix = base === '/' ? '/' : `${base}/`;
  return path.startsWith(prefix) ? toPathText(path.slice(prefix.length)) : null;
}

/** Text as Node gives it to the text that keeps every name apart. */
function toPathText(name: string): PathText {
  return hasEscapes(name) ? fromBytes(Buffer.from(name)) : name;
}
