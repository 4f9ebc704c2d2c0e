import type * as NodeFs from 'node:fs';
import { dirname, join } from 'node:path';

export type MeasureFs = Pick<
  typeof NodeFs,
  'openSync' | 'closeSync' | 'unlinkSync' | 'lstatSync' | 'writeFileSync' | 'readFileSync' | 'readdirSync' | 'constants'
>;

/** The file that is written and read. */
export interface MeasureFile {
  fd: number;
  /** Past the page cache? */
  direct: boolean;
  /** `null`: it has no name, and is gone with the process whatever ends it. */
  path: string | null;
  remove(): void;
}

/** Not among `fs.constants`: with O_DIRECTORY a file without a name in that folder (open(2)); the same bit on x86-64 and arm64. */
const TMPFILE_BIT = 0o20_000_000;

/** What a named file is called: ours by 128 random bits, and left out of what is counted by its beginning. */
const NAME = /^\.headroomd-measuring-[0-9a-f]{32}$/;

const NOTE = /^measuring-([0-9a-f]{32})\.json$/;

interface Note {
  path: string;
  folderInode?: string;
}

/**
 * Makes a file of its own in a folder. Without a name where the file system can do that: nobody sees it, and any end of the process,
 * kill -9 as well, removes it. Else with a name that is noted in `notes` first, so that the next start finds it (`removeLeftovers`). A
 * file that is there is never opened.
 * @throws what opening throws
 */
export function makeMeasureFile(fs: MeasureFs, folder: string, notes: string, token: string): MeasureFile {
  return openNameless(fs, folder) ?? openNamed(fs, folder, notes, token);
}

/** First past the page cache, then through it; `null`: this file system has no files without a name. */
function openNameless(fs: MeasureFs, folder: string): MeasureFile | null {
  const { O_DIRECT, O_DIRECTORY, O_RDWR } = fs.constants;
  for (const direct of [true, false]) {
    try {
      const fd = fs.openSync(folder, TMPFILE_BIT | O_DIRECTORY | O_RDWR | (direct ? O_DIRECT : 0), 0o600);
      return { fd, direct, path: null, remove: () => {} };
    } catch (error) {
      if (!isRefusal(error)) throw error;
    }
  }
  return null;
}

function openNamed(fs: MeasureFs, folder: string, notes: string, token: string): MeasureFile {
  const path = join(folder, `.headroomd-measuring-${token}`);
  const note = join(notes, `measuring-${token}.json`);
  const folderInode = fs.lstatSync(folder, { bigint: true }).ino.toString();
  fs.writeFileSync(note, JSON.stringify({ path, folderInode }), { mode: 0o600, flag: 'wx' });
  const remove = () => removeBoth(fs, path, note);
  const { O_CREAT, O_DIRECT, O_EXCL, O_RDWR } = fs.constants;
  try {
    const fd = fs.openSync(path, O_CREAT | O_EXCL | O_RDWR | O_DIRECT, 0o600);
    return { fd, direct: true, path, remove };
  } catch (error) {
    // It may have been made before it was refused.
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') removeQuietly(fs, path);
    if (!isRefusal(error)) {
      removeQuietly(fs, note);
      throw error;
    }
  }
  return { fd: fs.openSync(path, O_CREAT | O_EXCL | O_RDWR, 0o600), direct: false, path, remove };
}

/** What says that a flag is not understood here. */
function isRefusal(error: unknown): boolean {
  return ['EINVAL', 'ENOTSUP', 'EOPNOTSUPP', 'EISDIR'].includes((error as NodeJS.ErrnoException).code ?? '');
}

function removeBoth(fs: MeasureFs, path: string | null, note: string | null): void {
  if (path !== null) removeQuietly(fs, path);
  if (note !== null) removeQuietly(fs, note);
}

function removeQuietly(fs: MeasureFs, path: string): void {
  try {
    fs.unlinkSync(path);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
  }
}

/**
 * Removes the files of measurements that were ended before they could: exactly those that are noted, by a name that only we make,
 * that are plain files of this user. Returns the paths that were removed. What cannot be looked at now stays noted, and what is not
 * there while another folder is in the place of its own: the volume is not mounted, or its mount point is bare.
 */
export function removeLeftovers(fs: MeasureFs, notes: string, uid: number): string[] {
  return fs.readdirSync(notes).flatMap((name) => {
    if (!NOTE.test(name)) return [];
    const note = join(notes, name);
    try {
      const { path, folderInode } = JSON.parse(fs.readFileSync(note, 'utf8')) as Note;
      const found = lookAt(fs, path, uid);
      if (found === 'absent' && !isSameFolder(fs, path, folderInode)) return [];
      removeBoth(fs, found === 'ours' ? path : null, note);
      return found === 'ours' ? [path] : [];
    } catch {
      return [];
    }
  });
}

function lookAt(fs: MeasureFs, path: string, uid: number): 'ours' | 'foreign' | 'absent' {
  if (!NAME.test(path.split('/').at(-1) ?? '')) return 'foreign';
  try {
    const stat = fs.lstatSync(path);
    return stat.isFile() && stat.uid === uid ? 'ours' : 'foreign';
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return 'absent';
    throw error;
  }
}

/** Not the device number: it changes from one mount to the next. */
function isSameFolder(fs: MeasureFs, path: string, inode: string | undefined): boolean {
  return fs.lstatSync(dirname(path), { bigint: true }).ino.toString() === inode;
}
