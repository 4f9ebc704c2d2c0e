import { basename, sep } from 'node:path';
import type { FSWatcher } from 'chokidar';
import { dirName, fromBytes, hasEscapes, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import type { FolderEvents, FolderWatch, FolderWatchPlace } from './folder-watch.ts';

const REWATCHED_MS = 300;

/** How an invalid byte of a name arrives in an event: the name itself is lost. */
const LOST_BYTES = '\uFFFD';

/**
 * The whole tree in one watch of chokidar's, for systems that watch trees (macOS, Windows). The first `watch` begins it;
 * that and the ones after it are through when the package is.
 *
 * Files are left out of the package's own picture (it would keep memory for each and read them all at the start); their
 * names come with the raw events. A new folder is told as `unclear` once the package has it in its watch.
 *
 * Where the package watches each folder (Linux, where only the tests use this) it does not see folders whose name is no
 * UTF-8.
 */
export function treeWatch(place: FolderWatchPlace, events: FolderEvents): FolderWatch {
  let begun: Promise<void> | undefined;
  let ready = false;
  let closed = false;
  let watcher: FSWatcher | null = null;
  const begin = async (): Promise<void> => {
    // Loaded where it is needed: it would take its memory everywhere.
    const { watch } = await import('chokidar');
    if (closed) return;
    const through = Promise.withResolvers<void>();
    watcher = watch(place.base, { ignored: leaveOut(place), ...HOW });
    listen(watcher, place, {
      ...events,
      unclear: (dir) => {
        if (!closed) events.unclear(dir);
      },
    });
    watcher.on('ready', through.resolve);
    await through.promise;
    ready = true;
  };
  return {
    watch(dir) {
      if (closed || ready) return undefined;
      begun ??= begin().catch((error) => events.failed(dir, error));
      return begun;
    },
    // The tree stays watched; what is told of a folder that is not asked for is dropped by who hears it.
    unwatch: () => {},
    close() {
      closed = true;
      watcher?.removeAllListeners();
      // An emitter without an error listener throws.
      watcher?.on('error', () => {});
      void watcher?.close().catch(() => {});
    },
  };
}

const HOW = {
  ignoreInitial: true,
  followSymlinks: false,
  atomic: false,
  persistent: true,
  backend: 'auto',
} as const;

/** Files, other file systems and what is not looked at. */
function leaveOut({ base, device, skip }: FolderWatchPlace) {
  return (path: string, stats?: { isDirectory(): boolean; dev: number }): boolean => {
    if (stats !== undefined && !(stats.isDirectory() && BigInt(stats.dev) === device)) return true;
    const inside = relativeTo(base, path);
    return inside !== null && inside !== '' && skip(inside);
  };
}

function listen(watcher: FSWatcher, { base, skip }: FolderWatchPlace, events: FolderEvents): void {
  watcher.on('raw', (event: string, name: unknown, details: unknown) => {
    const watched = (details as { watchedPath?: string } | null)?.watchedPath ?? '';
    const dir = relativeTo(base, watched);
    if (dir === null) return;
    // A folder's own removal comes under its own name. If it was made again at once, with the same inode even, it has
    // no watch until the package notices: what is in it by then is read.
    if (event === 'rename' && name === basename(watched)) setTimeout(() => events.unclear(dir), REWATCHED_MS);
    if (typeof name !== 'string' || name.includes(LOST_BYTES)) events.unclear(dir);
    else if (name !== '' && !isWithin(joinPath(dir, toPathText(name)), skip))
      events.touched(joinPath(dir, toPathText(name)), false);
  });
  watcher.on('addDir', (path) => {
    const dir = relativeTo(base, path);
    if (dir !== null && dir !== '') events.unclear(dir);
  });
  watcher.on('error', (error) => events.failed('', error as NodeJS.ErrnoException));
}

/** A watch of a tree also tells of what lies below a folder that is not looked at. */
function isWithin(path: PathText, skip: (path: PathText) => boolean): boolean {
  for (let at = path; at !== ''; at = dirName(at)) if (skip(at)) return true;
  return false;
}

/** The path below the root, empty for the root, `null` for anything outside. */
function relativeTo(base: string, path: string): PathText | null {
  if (path === base) return '';
  const prefix = base.endsWith(sep) ? base : base + sep;
  return path.startsWith(prefix) ? toPathText(path.slice(prefix.length)) : null;
}

/** Text as Node gives it to the text that keeps every name apart. */
function toPathText(name: string): PathText {
  const path = sep === '/' ? name : name.replaceAll(sep, '/');
  return hasEscapes(path) ? fromBytes(Buffer.from(path)) : path;
}
