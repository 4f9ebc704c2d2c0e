import { type FSWatcher, watch as watchFolder } from 'node:fs';
import { basename } from 'node:path';
import { baseName, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { fromDirent, toAbsolute } from '../base/byte-path.ts';
import type { FolderEvents, FolderWatch, FolderWatchPlace } from './folder-watch.ts';

/**
 * One watch of the system for each folder, for Linux: inotify has no others. Folders and names are bytes throughout, so
 * that those that are no UTF-8 are watched like all others.
 *
 * An inotify watch holds on to the folder (its inode), not to the path: a folder that is renamed goes on being told of
 * under its old path, and one that is removed and made again has no watch, even if it has the same inode. Both are
 * repaired by watching again under the path as it is, which is why `watch` always makes a new one. The new one is made
 * before the old one is closed; if both are for the same inode the kernel counts one.
 */
export function eachFolder(place: FolderWatchPlace, events: FolderEvents): FolderWatch {
  return new EachFolder(place.base, events);
}

class EachFolder implements FolderWatch {
  readonly #base: string;
  readonly #events: FolderEvents;
  readonly #watches = new Map<PathText, FSWatcher>();
  #closed = false;

  constructor(base: string, events: FolderEvents) {
    this.#base = base;
    this.#events = events;
  }

  watch(dir: PathText): undefined {
    if (this.#closed) return;
    const earlier = this.#watches.get(dir);
    try {
      // The timers of the session keep the process alive, not each of its watches.
      const path = toAbsolute(this.#base, dir);
      const made = watchFolder(path, { encoding: 'buffer', persistent: false }, (event, name) =>
        this.#onEvent(dir, made, event, name),
      );
      made.on('error', (error: NodeJS.ErrnoException) => this.#onError(dir, made, error));
      this.#watches.set(dir, made);
    } catch (error) {
      this.#watches.delete(dir);
      this.#events.failed(dir, error as NodeJS.ErrnoException);
    }
    earlier?.close();
  }

  unwatch(dir: PathText): void {
    const watch = this.#watches.get(dir);
    this.#watches.delete(dir);
    watch?.close();
  }

  close(): void {
    this.#closed = true;
    for (const watch of this.#watches.values()) watch.close();
    this.#watches.clear();
  }

  #onEvent(dir: PathText, from: FSWatcher, event: string, name: Buffer | null): void {
    if (this.#watches.get(dir) !== from) return;
    if (name === null) {
      this.#events.unclear(dir);
      return;
    }
    const told = fromDirent(name);
    this.#events.touched(joinPath(dir, told), event === 'change');
    // What happens to the folder itself (its rights, its removal) comes under its own name, which a file in it may have too.
    // Nothing above the root tells of it: one that is removed and made again with the same inode would stay unheard.
    if (dir !== '') {
      if (told === baseName(dir)) this.#events.touched(dir, false);
    } else if (event === 'rename' && told === basename(this.#base)) this.#events.unclear('');
  }

  #onError(dir: PathText, from: FSWatcher, error: NodeJS.ErrnoException): void {
    if (this.#watches.get(dir) !== from) return;
    this.unwatch(dir);
    this.#events.failed(dir, error);
  }
}
