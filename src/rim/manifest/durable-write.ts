import { createHash, randomBytes } from 'node:crypto';
import {
  closeSync,
  constants,
  fsyncSync,
  linkSync,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  unlinkSync,
  writeSync,
} from 'node:fs';
import { c4Of } from '../../core/backup/mhl-hash-value.ts';
import { dirName, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { toAbsolute } from '../base/byte-path.ts';

const TEMPORARY = /^\.headroomd-[0-9a-f]{16}\.part$/;
const NEW = constants.O_WRONLY | constants.O_CREAT | constants.O_EXCL | constants.O_NOFOLLOW;
/** What file systems without hard links answer: FAT and its kin, many shares. */
const NO_LINKS = new Set(['EPERM', 'ENOTSUP', 'EOPNOTSUPP', 'ENOSYS', 'EMLINK']);

/**
 * Writes a file that must not be there yet. It has its name only when it is whole and on its medium; one that has the name
 * already stays as it is.
 * @returns the C4 identifier of what was written
 * @throws the system's error; EEXIST when the name is taken
 */
export function writeNew(top: string, path: PathText, pieces: Iterable<string>): string {
  const { temporary, c4 } = writeTemporary(top, dirName(path), pieces);
  const final = toAbsolute(top, path);
  try {
    nameIt(temporary, final);
  } catch (error) {
    unlinkSync(temporary);
    throw error;
  }
  syncFolder(top, dirName(path));
  return c4;
}

/** Writes a file in the place of the one that is there: whoever reads sees the one or the other, whole. */
export function replace(top: string, path: PathText, text: string): void {
  const { temporary } = writeTemporary(top, dirName(path), [text]);
  try {
    renameSync(temporary, toAbsolute(top, path));
  } catch (error) {
    unlinkSync(temporary);
    throw error;
  }
  syncFolder(top, dirName(path));
}

/** Makes a folder if it is not there, durably; and takes away what a killed writer left half written in it. */
export function prepareFolder(top: string, folder: PathText): void {
  try {
    mkdirSync(toAbsolute(top, folder));
    syncFolder(top, dirName(folder));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
  }
  for (const name of readdirSync(toAbsolute(top, folder))) {
    if (TEMPORARY.test(name)) unlinkSync(toAbsolute(top, joinPath(folder, name)));
  }
}

/** A link is made only where the name is free. Without links the name is taken first, then given to the file. */
function nameIt(temporary: string | Buffer, final: string | Buffer): void {
  try {
    linkSync(temporary, final);
    unlinkSync(temporary);
  } catch (error) {
    if (!NO_LINKS.has((error as NodeJS.ErrnoException).code ?? '')) throw error;
    closeSync(openSync(final, NEW, 0o644));
    renameSync(temporary, final);
  }
}

function writeTemporary(
  top: string,
  folder: PathText,
  pieces: Iterable<string>,
): { temporary: string | Buffer; c4: string } {
  const temporary = toAbsolute(top, joinPath(folder, `.headroomd-${randomBytes(8).toString('hex')}.part`));
  const sha512 = createHash('sha512');
  const fd = openSync(temporary, NEW, 0o644);
  try {
    for (const piece of pieces) {
      const bytes = Buffer.from(piece);
      sha512.update(bytes);
      for (let at = 0; at < bytes.length; ) at += writeSync(fd, bytes, at);
    }
    fsyncSync(fd);
  } catch (error) {
    unlinkSync(temporary);
    throw error;
  } finally {
    closeSync(fd);
  }
  return { temporary, c4: c4Of(sha512.digest()) };
}

/** Some shares keep no folders of their own, and say so. */
function syncFolder(top: string, folder: PathText): void {
  const fd = openSync(toAbsolute(top, folder), constants.O_RDONLY | constants.O_DIRECTORY);
  try {
    fsyncSync(fd);
  } catch (error) {
    if (!['EINVAL', 'ENOTSUP', 'ENOSYS'].includes((error as NodeJS.ErrnoException).code ?? '')) throw error;
  } finally {
    closeSync(fd);
  }
}
