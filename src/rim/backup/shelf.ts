import {
  type BigIntStats,
  closeSync,
  constants,
  fstatSync,
  fsync,
  lstatSync,
  mkdirSync,
  openSync,
  readdirSync,
  statSync,
} from 'node:fs';
import { promisify } from 'node:util';
import type { FolderGuard, ShelfGuard } from '../../core/backup/copy-port.ts';
import { baseName, dirName, fromBytes } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { readSmallFile } from '../base/small-file.ts';
import { StepError } from './steps.ts';

const FOLDER_FLAGS = constants.O_RDONLY | constants.O_DIRECTORY;
const MOST_MARKER_BYTES = 65_536;
const fsyncLater = promisify(fsync);

/** Paths through a folder that this process holds open lead to that folder, whatever happens to its name. Other processes of the user can take them as well. */
const HELD = `/proc/${process.pid}/fd`;

export function heldPath(fd: number): string {
  return `${HELD}/${fd}`;
}

/** The shelf is not mounted, or it is another one. */
export class ShelfGone extends Error {}

interface Folder {
  fd: number;
  device: bigint;
  /** Names in it, once they were needed. */
  names: Set<PathText> | null;
}

/**
 * The folders of a shelf, or of one that is only read and has no marker, each held open while a batch goes on. Every path leads through one of them: after an unmount nothing lands in the
 * folder below the mount point, and no link that appears meanwhile leads elsewhere.
 */
export class Shelf {
  readonly #guard: ShelfGuard | FolderGuard;
  readonly #root: Folder;
  readonly #inode: bigint;
  readonly #folders = new Map<PathText, Folder>();
  readonly #touched = new Set<number>();

  /** @throws ShelfGone */
  constructor(guard: ShelfGuard | FolderGuard) {
    this.#guard = guard;
    try {
      const fd = openSync(guard.root, FOLDER_FLAGS);
      const { dev, ino } = fstatSync(fd, { bigint: true });
      this.#root = { fd, device: dev, names: null };
      this.#inode = ino;
    } catch (error) {
      throw new ShelfGone((error as NodeJS.ErrnoException).code ?? String(error));
    }
    this.check();
  }

  get root(): number {
    return this.#root.fd;
  }

  get device(): bigint {
    return this.#root.device;
  }

  /** @throws ShelfGone when what its path shows now is not this shelf */
  check(): void {
    const { root, device } = this.#guard;
    const found = statOrNull(root);
    if (found === null) throw new ShelfGone('there is no such folder');
    if (found.dev !== this.device || found.ino !== this.#inode || (device !== null && found.dev !== device))
      throw new ShelfGone('another file system is in its place');
    if (!('marker' in this.#guard)) return;
    const { marker, content } = this.#guard;
    const read = readSmallFile(toAbsolute(root, marker), MOST_MARKER_BYTES);
    if (!read.ok) throw new ShelfGone(`its marker file cannot be read: ${read.detail}`);
    if (Buffer.compare(read.bytes, Buffer.from(content)) !== 0)
      throw new ShelfGone('its marker file is of another shelf');
  }

  /**
   * A folder below the root, made where it is missing and `make` says so; its folders are gone through one by one, and none may be a link
   * or another file system.
   * @throws StepError, or what the calls throw
   */
  folder(path: PathText, make: boolean): number {
    return this.#folder(path, make).fd;
  }

  /** Whether a name is in a folder exactly so: where case is not told apart, another one answers to it as well. */
  hasExactly(path: PathText): boolean {
    const folder = this.#folder(dirName(path), false);
    folder.names ??= namesIn(folder.fd);
    return folder.names.has(baseName(path));
  }

  /** The path of a name in a folder, for a call. */
  pathOf(folder: number, name: PathText): string | Buffer {
    return toAbsolute(heldPath(folder), name);
  }

  /** A name in this folder was made or removed. */
  touched(folder: number): void {
    this.#touched.add(folder);
  }

  /** Makes the names durable. @throws what fsync throws; never asked twice */
  async syncFolders(): Promise<void> {
    const folders = [...this.#touched];
    this.#touched.clear();
    for (const fd of folders) await fsyncLater(fd);
  }

  /** Lets go of all folders but the root. */
  closeFolders(): void {
    this.#touched.clear();
    for (const { fd } of this.#folders.values()) closeSync(fd);
    this.#folders.clear();
    this.#root.names = null;
  }

  #folder(path: PathText, make: boolean): Folder {
    if (path === '') return this.#root;
    const known = this.#folders.get(path);
    if (known !== undefined) return known;
    const parent = this.#folder(dirName(path), make);
    const opened = this.#open(parent, baseName(path), make);
    this.#folders.set(path, opened);
    return opened;
  }

  #open(parent: Folder, name: PathText, make: boolean): Folder {
    const path = this.pathOf(parent.fd, name);
    if (!make || !this.#make(parent, path, name)) this.#ensureExact(parent, path, name);
    const fd = openSync(path, FOLDER_FLAGS | constants.O_NOFOLLOW);
    const { dev } = fstatSync(fd, { bigint: true });
    if (dev === this.device) return { fd, device: dev, names: null };
    closeSync(fd);
    throw elsewhere('it is another file system');
  }

  /** Whether it was made; not when something has that name. */
  #make(parent: Folder, path: string | Buffer, name: PathText): boolean {
    try {
      mkdirSync(path);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code === 'EEXIST') return false;
      throw error;
    }
    parent.names?.add(name);
    this.touched(parent.fd);
    return true;
  }

  #ensureExact(parent: Folder, path: string | Buffer, name: PathText): void {
    if (!lstatSync(path).isDirectory()) throw elsewhere('a link or a file is in the place of a folder');
    parent.names ??= namesIn(parent.fd);
    if (parent.names.has(name)) return;
    const detail = 'a folder of nearly the same name is there, and this file system does not tell the two apart';
    throw new StepError({ is: 'failed', step: 'publish', code: null, detail, reason: 'name-refused' });
  }
}

function elsewhere(detail: string): StepError {
  return new StepError({ is: 'failed', step: 'publish', code: null, detail, reason: 'outside-shelf' });
}

function statOrNull(path: string): BigIntStats | null {
  try {
    return statSync(path, { bigint: true });
  } catch {
    return null;
  }
}

function namesIn(fd: number): Set<PathText> {
  return new Set(readdirSync(heldPath(fd), { encoding: 'buffer' }).map(fromBytes));
}
