import type { BigIntStats, Dirent } from 'node:fs';
import { joinPath } from '../../core/intake/path-text.ts';
import { systemName } from '../../core/intake/system-names.ts';
import type { PathText } from '../../core/model.ts';
import { fromDirent, toAbsolute } from '../base/byte-path.ts';

/** The part of `node:fs` that looking at a card takes: names and `lstat`. Nothing in it can open a file or write. */
export type CardFs = Pick<typeof import('node:fs'), 'lstatSync' | 'opendirSync'>;

/** The file system below a mount point, as it was when the look began. */
export interface CardTree {
  fs: CardFs;
  mountPoint: string;
  device: bigint;
  ino: bigint;
}

/** One name in a folder. */
export interface TreeEntry {
  path: PathText;
  is: 'folder' | 'file';
}

interface NamedEntry {
  name: PathText;
  dirent: Dirent<Buffer>;
}

const NAMES_AT_ONCE = 512;

/** The mount point is another folder now: the card is gone. */
export class CardVanished extends Error {}

/** Throws what `lstat` throws. */
export function openTree(fs: CardFs, mountPoint: string): CardTree {
  const { dev, ino } = fs.lstatSync(mountPoint, { bigint: true });
  return { fs, mountPoint, device: dev, ino };
}

/** Throws `CardVanished` when the mount point shows another file system, or none. */
export function ensureThere({ fs, mountPoint, device, ino }: CardTree): void {
  try {
    const now = fs.lstatSync(mountPoint, { bigint: true });
    if (now.dev === device && now.ino === ino) return;
  } catch {
    // Told below.
  }
  throw new CardVanished('the card was taken out');
}

/**
 * The files and folders in one folder: no links, no devices, nothing the system keeps for itself. At most `most` names are
 * looked at. Throws what reading throws.
 */
export function namesIn(tree: CardTree, dir: PathText, most: number): TreeEntry[] {
  const found: TreeEntry[] = [];
  const depth = dir === '' ? 0 : dir.split('/').length;
  for (const { name, dirent } of firstNames(tree, dir, most)) {
    if (systemName(name, depth) !== null) continue;
    const path = joinPath(dir, name);
    const is = kindOf(tree, path, dirent);
    if (is !== null) found.push({ path, is });
  }
  return found;
}

/** Whether a folder lies on the card itself: what is mounted below it is another matter. */
export function isOnCard(tree: CardTree, dir: PathText): boolean {
  return statOf(tree, dir).dev === tree.device;
}

export function statOf({ fs, mountPoint }: CardTree, path: PathText): BigIntStats {
  return fs.lstatSync(toAbsolute(mountPoint, path), { bigint: true });
}

/** Some file systems do not tell the type with the name. */
function kindOf(tree: CardTree, path: PathText, dirent: Dirent<Buffer>): TreeEntry['is'] | null {
  if (dirent.isFile()) return 'file';
  if (dirent.isDirectory()) return 'folder';
  if (dirent.isSymbolicLink() || dirent.isBlockDevice() || dirent.isCharacterDevice()) return null;
  if (dirent.isFIFO() || dirent.isSocket()) return null;
  const stat = statOf(tree, path);
  return stat.isFile() ? 'file' : stat.isDirectory() ? 'folder' : null;
}

function* firstNames({ fs, mountPoint }: CardTree, dir: PathText, most: number): Generator<NamedEntry> {
  // Names as bytes: that opendir can do this too is missing in its types alone.
  const asBytes = 'buffer' as BufferEncoding;
  const folder = fs.opendirSync(toAbsolute(mountPoint, dir), { encoding: asBytes, bufferSize: NAMES_AT_ONCE });
  try {
    for (let count = 0; count < most; count += 1) {
      const dirent = folder.readSync() as unknown as Dirent<Buffer> | null;
      if (dirent === null) return;
      yield { name: fromDirent(dirent.name), dirent };
    }
  } finally {
    folder.closeSync();
  }
}
