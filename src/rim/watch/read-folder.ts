import type { BigIntStats } from 'node:fs';
import { joinPath } from '../../core/intake/path-text.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import { fromDirent, toAbsolute } from '../base/byte-path.ts';
import { toFileStat } from '../base/file-stat.ts';
import type { Steps } from './slices.ts';

/** The part of `node:fs` that walking takes. */
export type TreeFs = Pick<typeof import('node:fs'), 'lstatSync' | 'readdirSync'>;

export interface FolderPlace {
  fs: TreeFs;
  /** Absolute, without links. */
  base: string;
  /** Folders on another device are not entered. */
  device: bigint;
  /** Names that are neither counted nor watched. */
  skip: (path: PathText) => boolean;
}

/** What one folder holds, as read between two looks at the folder itself. */
export interface FolderContent {
  kind: 'read';
  files: FileStat[];
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

const STEP = 32;

/** Reads one folder, without following links. Only regular files and folders are told. */
export function* readFolder(place: FolderPlace, dir: PathText): Steps<FolderReading> {
  const before = statFolder(place, dir);
  if (before === null) return { kind: 'missing' };
  if (before.dev !== place.device) return { kind: 'replaced' };
  const { ino, mtimeNs } = before;
  const content: FolderContent = { kind: 'read', files: [], dirs: [], foreign: [], unreadable: [], ino, mtimeNs };
  let names: Buffer[];
  try {
    names = place.fs.readdirSync(toAbsolute(place.base, dir), { encoding: 'buffer' });
  } catch (thrown) {
    const error = thrown as NodeJS.ErrnoException;
    return isMissing(error) ? { kind: 'missing' } : { kind: 'unreadable', error: describe(error), ino, mtimeNs };
  }
  for (const [index, name] of names.entries()) {
    takeEntry(place, joinPath(dir, fromDirent(name)), content);
    if (index % STEP === STEP - 1) yield undefined;
  }
  const after = statFolder(place, dir);
  return after !== null && after.ino === ino && after.dev === before.dev ? content : { kind: 'replaced' };
}

function takeEntry(place: FolderPlace, path: PathText, content: FolderContent): void {
  if (place.skip(path)) return;
  try {
    const stat = place.fs.lstatSync(toAbsolute(place.base, path), { bigint: true });
    if (stat.isFile()) content.files.push(toFileStat(path, stat));
    else if (stat.isDirectory() && stat.dev === place.device) content.dirs.push({ path, ino: stat.ino });
    else if (stat.isDirectory()) content.foreign.push(path);
  } catch (thrown) {
    const error = thrown as NodeJS.ErrnoException;
    if (!isMissing(error)) content.unreadable.push({ path, error: describe(error) });
  }
}

function statFolder(place: FolderPlace, dir: PathText): BigIntStats | null {
  try {
    const stat = place.fs.lstatSync(toAbsolute(place.base, dir), { bigint: true });
    return stat.isDirectory() ? stat : null;
  } catch {
    return null;
  }
}

export function isMissing(error: NodeJS.ErrnoException): boolean {
  return error.code === 'ENOENT' || error.code === 'ENOTDIR';
}

/** `EACCES: permission denied, lstat` without the path, which may hold anything. */
export function describe(error: NodeJS.ErrnoException): string {
  return error.message.replace(/ '.*$/s, '');
}
