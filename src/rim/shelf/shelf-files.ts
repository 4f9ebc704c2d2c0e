import {
  closeSync,
  constants,
  fstatSync,
  fsyncSync,
  linkSync,
  lstatSync,
  mkdirSync,
  openSync,
  readFileSync,
  renameSync,
  statSync,
  unlinkSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import type { ShelfGuard } from '../../core/backup/copy-port.ts';
import { MARKER_NAME, markerContent, readMarker, type ShelfMarker } from '../../core/backup/shelf-port.ts';
import { messageOf } from '../../core/fault.ts';
import { dirName } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { toAbsolute } from '../base/byte-path.ts';

/* What is done on a shelf besides copying. Runs in a process of its own: a drive that hangs takes that along and nothing else. */

const MOST_MARKER_BYTES = 65_536;

/** The marker of what lies at a path: `null`, none; `damaged`, something of that name that says nothing. Throws what the system throws but ENOENT. */
export function markerAt(path: string): (ShelfMarker & { content: string }) | 'damaged' | null {
  const file = join(path, MARKER_NAME);
  try {
    if (!lstatSync(file).isFile() || statSync(file).size > MOST_MARKER_BYTES) return 'damaged';
    const content = readFileSync(file, 'utf8');
    const marker = readMarker(content);
    return marker === null ? 'damaged' : { ...marker, content };
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return null;
    return 'damaged';
  }
}

/** Writes a marker, durably, where there is none. Why that could not be, in a sentence; `null`: it is there. */
export function markShelf(path: string, marker: ShelfMarker): string | null {
  const file = join(path, MARKER_NAME);
  try {
    const fd = openSync(file, constants.O_WRONLY | constants.O_CREAT | constants.O_EXCL, 0o644);
    try {
      writeSync(fd, markerContent(marker));
      fsyncSync(fd);
    } finally {
      closeSync(fd);
    }
    syncFolder(path);
    return null;
  } catch (error) {
    return `the marker ${file} could not be written: ${messageOf(error)}.`;
  }
}

/**
 * Gives a file of ours another place on its shelf, where nothing is: linked there first, so that at every moment it has a name; by renaming
 * where there are no links. Folders are made where they are missing. The shelf is looked at first, and the same one at the end.
 */
export function setAside(guard: ShelfGuard, from: PathText, to: PathText): 'moved' | 'missing' | { trouble: string } {
  const source = toAbsolute(guard.root, from);
  const target = toAbsolute(guard.root, to);
  try {
    if (!isShelf(guard)) return { trouble: `what is at ${guard.root} now is not the shelf that was there.` };
    if (!exists(source)) return 'missing';
    const folders = [dirName(to), dirName(from)].map((folder) => toAbsolute(guard.root, folder));
    for (const folder of folders) mkdirSync(folder, { recursive: true });
    moveWithoutOverwriting(source, target);
    for (const folder of folders) syncFolder(folder);
    return 'moved';
  } catch (error) {
    return { trouble: `${from} could not be set aside as ${to}: ${messageOf(error)}.` };
  }
}

function moveWithoutOverwriting(source: string | Buffer, target: string | Buffer): void {
  try {
    linkSync(source, target);
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code ?? '';
    if (!['EPERM', 'ENOTSUP', 'EOPNOTSUPP', 'ENOSYS', 'EMLINK'].includes(code)) throw error;
    if (exists(target)) throw new Error('something is there already');
    renameSync(source, target);
    return;
  }
  unlinkSync(source);
}

/** Is what lies there now the shelf of this guard? Throws what looking throws. */
export function isShelf({ root, content, device }: ShelfGuard): boolean {
  const marker = markerAt(root);
  const found = statSync(root, { bigint: true });
  return (
    marker !== null && marker !== 'damaged' && marker.content === content && (device === null || found.dev === device)
  );
}

function exists(path: string | Buffer): boolean {
  try {
    lstatSync(path);
    return true;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return false;
    throw error;
  }
}

function syncFolder(path: string | Buffer): void {
  const fd = openSync(path, constants.O_RDONLY | constants.O_DIRECTORY);
  try {
    if (fstatSync(fd).isDirectory()) fsyncSync(fd);
  } finally {
    closeSync(fd);
  }
}
