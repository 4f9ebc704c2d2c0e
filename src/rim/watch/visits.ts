import { baseName, dirName, joinPath } from '../../core/intake/path-text.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { Digest } from './digest.ts';
import type { FolderWatch } from './folder-watch.ts';
import { Folders, needsReading, wasReadLately } from './folders.ts';
import type { ChildEvent } from './packing.ts';
import { type FolderContent, type FolderPlace, type FolderReading, inodeOf, PART, readFolder } from './read-folder.ts';
import type { Steps } from './slices.ts';

export interface VisitOptions {
  place: FolderPlace;
  watch: Pick<FolderWatch, 'watch' | 'unwatch'>;
  emit: (event: ChildEvent) => void;
  /** Whether to remember a digest of each folder's content, for visits that tell what changed only. */
  digests: boolean;
  /** Waits until the other side has dealt with enough listings; `undefined`: go on. */
  room: () => Promise<void> | undefined;
  /** Wall clock, ms. */
  now: () => number;
  /** Something looked as if the volume had gone. True: it has, and what is seen says nothing about files. */
  hasGone: () => boolean;
}

/** What a visit leads to. */
export interface Visited {
  files: number;
  /** The folders in it, `null` when it could not be read. */
  dirs: readonly { path: PathText; ino: bigint }[] | null;
  /** To be read now: what is new here, or the folder above one that is gone. */
  next: PathText[];
}

/**
 * Visits single folders: watches, reads and tells each, and keeps a mark of it. Folders that are marked are the folders
 * that are watched.
 */
export class Visits {
  readonly #options: VisitOptions;
  readonly #told = new Set<PathText>();
  readonly folders = new Folders();
  /** The folder that is being read. What events say of names in it may be newer than what is told of it next. */
  reading: PathText | null = null;

  constructor(options: VisitOptions) {
    this.#options = options;
  }

  /**
   * Reads a folder and tells its content. `changedOnly`: only if it is not what was last told. `null`: the volume has gone.
   */
  *visit(dir: PathText, changedOnly: boolean): Steps<Visited | null> {
    const { place, watch, digests } = this.#options;
    const digest = digests ? new Digest() : null;
    const readAt = this.#options.now();
    let parts = 0;
    const part = (files: FileStat[]): Promise<void> | undefined => {
      digest?.addFiles(files);
      this.#options.emit({ type: 'part', dir, first: parts === 0, files });
      parts += 1;
      return this.#options.room();
    };
    this.reading = dir;
    const reading = yield* readFolder(place, dir, {
      watch: (path) => watch.watch(path),
      part: changedOnly ? null : part,
    });
    this.reading = null;
    // The parts of a folder that came to nothing are taken back.
    if (reading.kind !== 'read' && parts > 0) this.#options.emit({ type: 'part', dir, first: true, files: [] });
    if (reading.kind === 'missing' || reading.kind === 'replaced') return this.#noFolder(dir);
    if (reading.kind === 'unreadable') return this.#closed(dir, reading, readAt);
    const looksEmpty = reading.count + reading.dirs.length === 0;
    if (looksEmpty && this.#options.hasGone()) return null;
    digest?.addFiles(reading.files);
    const changed = this.#mark(dir, reading, readAt, digest?.textWith(reading) ?? null);
    const next = this.#follow(dir, reading);
    if (changed || !changedOnly) this.#tell(dir, reading);
    return { files: reading.count, dirs: reading.dirs, next };
  }

  /** Forgets a folder and all below it, and ends their watches. */
  drop(dir: PathText): void {
    this.#options.watch.unwatch(dir);
    for (const dropped of this.folders.drop(dir)) this.#options.watch.unwatch(dropped);
  }

  /**
   * Whether a folder must be read (again), by one look at it. Where events are trusted, a time later than they have told of so
   * far is an answer by itself: their names are looked at in a moment, and whether they told of all changes up to that time
   * shows then (`isAccounted`).
   */
  staleSince(dir: PathText, trustEvents: boolean): 'stale' | 'fresh' | bigint {
    const mark = this.folders.get(dir);
    const stat = mark === undefined ? null : this.#stat(dir);
    if (mark === undefined || stat === null) return 'stale';
    const reason = needsReading(mark, stat, trustEvents);
    if (reason === null) return 'fresh';
    return trustEvents && reason === 'changed' && stat.mtimeNs > mark.knownMtimeNs ? stat.mtimeNs : 'stale';
  }

  /** A large folder is read in the midst of its changes only now and then. */
  wasReadLately(dir: PathText): boolean {
    const mark = this.folders.get(dir);
    return mark !== undefined && wasReadLately(mark, this.#options.now());
  }

  isAccounted(dir: PathText, mtimeNs: bigint): boolean {
    return (this.folders.get(dir)?.knownMtimeNs ?? mtimeNs) >= mtimeNs;
  }

  /** Events have told of all changes in this folder up to now. */
  account(dir: PathText): void {
    const mark = this.folders.get(dir);
    const stat = mark === undefined ? null : this.#stat(dir);
    if (mark !== undefined && stat !== null && stat.ino === mark.ino) mark.knownMtimeNs = stat.mtimeNs;
  }

  #noFolder(dir: PathText): Visited | null {
    if (this.#options.hasGone()) return null;
    this.drop(dir);
    // What became of it is for the folder above to say. The root was removed and made again while it was read.
    return { files: 0, dirs: null, next: [dirName(dir)] };
  }

  /** It may not be read now: it is watched and looked at all the same, and what is in it may still be there. */
  #closed(dir: PathText, { error, ...at }: Extract<FolderReading, { kind: 'unreadable' }>, readAt: number): Visited {
    const unreadable = [{ path: dir, error }];
    this.#mark(dir, { ...at, kind: 'read', files: [], count: 0, dirs: [], foreign: [], unreadable }, readAt, null);
    this.#options.emit({ type: 'listing', dir, files: [], dirs: [], unreadable });
    return { files: 0, dirs: null, next: [] };
  }

  /** Marks the folder as read; false when its content is known to be what was last told. */
  #mark(dir: PathText, content: FolderContent, readAt: number, digest: string | null): boolean {
    const before = this.folders.get(dir);
    if (before !== undefined && before.ino !== content.ino) this.#dropBelow(dir);
    const changed = digest === null || digest !== before?.digest;
    this.folders.put(dir, {
      ino: content.ino,
      readMtimeNs: content.mtimeNs,
      knownMtimeNs: content.mtimeNs,
      readAt,
      complete: content.unreadable.length === 0,
      count: content.count,
      names: this.folders.get(dir)?.names ?? new Set<PathText>(),
      digest,
      changedAt: before === undefined ? Number(content.mtimeNs / 1_000_000n) : changed ? readAt : before.changedAt,
    });
    return changed;
  }

  /** Everything below a folder that is another one now; its own watch is new already. */
  #dropBelow(dir: PathText): void {
    for (const dropped of this.folders.drop(dir)) if (dropped !== dir) this.#options.watch.unwatch(dropped);
  }

  #follow(dir: PathText, content: FolderContent): PathText[] {
    const names = this.folders.get(dir)?.names ?? new Set<PathText>();
    const present = new Set(content.dirs.map(({ path }) => path));
    for (const name of names) {
      if (!present.has(joinPath(dir, name))) this.drop(joinPath(dir, name));
    }
    for (const { path } of content.dirs) names.add(baseName(path));
    return content.dirs.filter(({ path, ino }) => this.folders.get(path)?.ino !== ino).map(({ path }) => path);
  }

  /** In one message, or with parts before it when the folder is large. */
  #tell(dir: PathText, { files, count, dirs, foreign, unreadable }: FolderContent): void {
    const { emit } = this.#options;
    this.#tellForeign(foreign);
    let at = 0;
    // Read in one, but to be told in parts.
    for (; files.length === count && files.length - at > PART; at += PART)
      emit({ type: 'part', dir, first: at === 0, files: files.slice(at, at + PART) });
    emit({
      type: 'listing',
      dir,
      files: at === 0 ? files : files.slice(at),
      dirs: [...dirs.map(({ path }) => path), ...foreign],
      unreadable,
    });
  }

  #stat(dir: PathText): { ino: bigint; mtimeNs: bigint } | null {
    const { place } = this.#options;
    try {
      const stat = place.fs.lstatSync(toAbsolute(place.base, dir), { bigint: true });
      return { ino: inodeOf(place, stat), mtimeNs: stat.mtimeNs };
    } catch {
      return null;
    }
  }

  /** A file system mounted below the root is not followed, which is said once. */
  #tellForeign(foreign: readonly PathText[]): void {
    for (const path of foreign) {
      if (this.#told.has(path)) continue;
      this.#told.add(path);
      const detail = `${path} is another file system, which is not followed; to watch it, name it as a volume of its own`;
      this.#options.emit({ type: 'trouble', kind: 'other-file-system', detail });
    }
  }
}
