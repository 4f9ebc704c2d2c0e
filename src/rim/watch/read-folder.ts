import type { BigIntStats } from 'node:fs';
import { joinPath } from '../../core/intake/path-text.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import { fromDirent, toAbsolute } from '../base/byte-path.ts';
import { toFileStat } from '../base/file-stat.ts';
import { InsideRoot } from './inside-root.ts';
import { isMissing } from './missing-error.ts';
import type { Steps } from './slices.ts';
import { type Stamps, trustworthy } from './stamps.ts';

/** The part of `node:fs` that walking takes. */
export type TreeFs = Pick<typeof import('node:fs'), 'lstatSync' | 'readdirSync'>;

export interface FolderPlace {
  fs: TreeFs;
  /** Absolute, without links. */
  base: string;
  /** Folders on another device are not entered. */
  device: bigint;
  /** What of inodes and times can be trusted here. */
  stamps: Stamps;
  /** Names that are neither counted nor watched. */
  skip: (path: PathText) => boolean;
}

/** What is done while a folder is read. */
export interface WhileReading {
  /** Watches the folder, before its names are read. */
  watch: (dir: PathText) => Promise<void> | undefined;
  /** Takes a part of the files that are in it, of PART files, so that no folder is ever held as a whole; `null`: in one. */
  part: ((files: FileStat[]) => Promise<void> | undefined) | null;
}

/** What one folder holds, as read between two looks at the folder itself. */
export interface FolderContent {
  kind: 'read';
  /** Without those that were handed out in parts. */
  files: FileStat[];
  /** All files, those of the parts too. */
  count: number;
  /** Folders on the same device. */
  dirs: { path: PathText; ino: bigint }[];
  /** Folders where another file system is mounted. */
  foreign: PathText[];
  unreadable: { path: PathText; error: string }[];
  ino: bigint;
  mtimeNs: bigint;
}

export type FolderReading =
  | FolderContent
  /** Not there any more, or no folder. */
  | { kind: 'missing' }
  /** It became another folder while it was read, or lies on another device: the volume may be gone. */
  | { kind: 'replaced' }
  | { kind: 'unreadable'; error: string; ino: bigint; mtimeNs: bigint };

/** Files of one message: unpacking so many takes the daemon about 2 ms. */
export const PART = 2000;

const STEP = 64;

/** What text cannot say of a name: bytes that are no UTF-8 arrive as U+FFFD, the rest is the range of our own escapes. */
const ODD = /[\uFFFD\uF780-\uF7FF]/;

/**
 * Reads one folder: looks at it, watches it, reads it and looks at it again. If both looks found the same folder, that is
 * the one that is watched. Only regular files and folders are told.
 */
export function* readFolder(place: FolderPlace, dir: PathText, during: WhileReading): Steps<FolderReading> {
  const before = new InsideRoot(place).seemsToReach(dir) ? statFolder(place, dir) : null;
  if (before === null) return { kind: 'missing' };
  if (before.dev !== place.device) return { kind: 'replaced' };
  const watched = during.watch(dir);
  if (watched !== undefined) yield watched;
  const mtimeNs = before.mtimeNs;
  const ino = inodeOf(place, before);
  const content: FolderContent = {
    kind: 'read',
    files: [],
    count: 0,
    dirs: [],
    foreign: [],
    unreadable: [],
    ino,
    mtimeNs,
  };
  let entries: Entries;
  try {
    entries = readNames(place, dir);
  } catch (thrown) {
    const error = thrown as NodeJS.ErrnoException;
    return isMissing(error) ? { kind: 'missing' } : { kind: 'unreadable', error: describe(error), ino, mtimeNs };
  }
  yield* takeEntries(place, entries, content, during);
  content.count += content.files.length;
  const after = statFolder(place, dir);
  return after !== null && after.ino === before.ino && after.dev === before.dev ? content : { kind: 'replaced' };
}

interface Entries {
  names: PathText[];
  /** Goes before each name. */
  prefix: PathText;
  absolute: (name: PathText) => string | Buffer;
}

/** Reads names as text, which takes a third of the time, and once more as bytes where text does not say it all. */
function readNames(place: FolderPlace, dir: PathText): Entries {
  const folder = toAbsolute(place.base, dir);
  const prefix = joinPath(dir, 'x').slice(0, -1);
  const names = place.fs.readdirSync(folder, 'utf8');
  if (typeof folder === 'string' && !names.some((name) => ODD.test(name))) {
    const before = folder.endsWith('/') ? folder : `${folder}/`;
    return { names, prefix, absolute: (name) => before + name };
  }
  const bytes = place.fs.readdirSync(folder, { encoding: 'buffer' });
  return { names: bytes.map(fromDirent), prefix, absolute: (name) => toAbsolute(place.base, prefix + name) };
}

function* takeEntries(place: FolderPlace, entries: Entries, content: FolderContent, during: WhileReading): Steps<void> {
  for (const [index, name] of entries.names.entries()) {
    const path = entries.prefix + name;
    if (!place.skip(path)) takeEntry(place, path, entries.absolute(name), content);
    if (during.part !== null && content.files.length >= PART) {
      const files = content.files;
      content.files = [];
      content.count += files.length;
      yield during.part(files);
    } else if (index % STEP === STEP - 1) yield undefined;
  }
}

function takeEntry(place: FolderPlace, path: PathText, absolute: string | Buffer, content: FolderContent): void {
  try {
    const stat = place.fs.lstatSync(absolute, { bigint: true });
    if (stat.isFile()) content.files.push(trustworthy(toFileStat(path, stat), place.stamps));
    else if (stat.isDirectory() && stat.dev === place.device) content.dirs.push({ path, ino: inodeOf(place, stat) });
    else if (stat.isDirectory()) content.foreign.push(path);
  } catch (thrown) {
    const error = thrown as NodeJS.ErrnoException;
    if (!isMissing(error)) content.unreadable.push({ path, error: describe(error) });
  }
}

/** A folder's inode, 0 where inodes do not last. */
export function inodeOf(place: FolderPlace, stat: { ino: bigint }): bigint {
  return place.stamps.inodes ? stat.ino : 0n;
}

function statFolder(place: FolderPlace, dir: PathText): BigIntStats | null {
  try {
    const stat = place.fs.lstatSync(toAbsolute(place.base, dir), { bigint: true });
    return stat.isDirectory() ? stat : null;
  } catch {
    return null;
  }
}

/** `EACCES: permission denied, lstat` without the path, which may hold anything. */
export function describe(error: NodeJS.ErrnoException): string {
  return error.message.replace(/ '.*$/s, '');
}
