import { constants } from 'node:fs';
import { type FileHandle, open } from 'node:fs/promises';
import { normalSum, type Sums } from '../../core/backup/sums.ts';
import { messageOf } from '../../core/fault.ts';
import { baseName, dirName } from '../../core/intake/path-text.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { ManifestOutcome } from '../../core/root-port.ts';
import { ChecksumListReader } from './checksum-list.ts';
import { ListedFiles } from './listed-files.ts';
import { ManifestError } from './manifest-error.ts';
import { MhlReader, type WrittenHash } from './mhl.ts';

/** A list of 100,000 files takes about 30 MB in XML. */
const MOST_BYTES = 64 * 1024 * 1024;
const CHUNK_BYTES = 65_536;

/** A symbolic link is not followed, and a pipe does not hold us up. */
export const LIST_FLAGS = constants.O_RDONLY | constants.O_NOFOLLOW | constants.O_NONBLOCK;

interface Reader {
  write(bytes: Buffer): void;
  end(): void;
}

/**
 * Reads a manifest: a media hash list in XML (ASC MHL 2.0, or 1.x before it), or a list as md5sum, sha256sum and their kin
 * write it; which one is told from its first bytes. Streams it from disk and keeps names, sizes and times only. Never
 * rejects.
 * @param absolute where it lies
 * @param file the same with its path below the volume's root, which `base` is told in
 */
export async function readManifest(absolute: string | Buffer, file: FileStat): Promise<ManifestOutcome> {
  let handle: FileHandle | null = null;
  try {
    handle = await open(absolute, LIST_FLAGS);
    const files = await readList(handle, baseName(file.path));
    return { ok: true, base: baseOf(file.path), files: files.files, gap: files.gap };
  } catch (error) {
    return { ok: false, ...failureOf(error) };
  } finally {
    await handle?.close().catch(() => {});
  }
}

/**
 * All that a list says. `name`: its own.
 * @throws ManifestError, or the system's error
 */
export async function readList(handle: FileHandle, name: string): Promise<ListedFiles> {
  const stat = await handle.stat();
  if (!stat.isFile()) throw new ManifestError('not-a-manifest', 'It is no regular file.');
  if (stat.size > MOST_BYTES) throw tooLarge();
  const files = new ListedFiles();
  let reader: Reader | null = null;
  let read = 0;
  // Each piece is a new buffer: what is kept of a line must not change under it.
  for (;;) {
    const { bytesRead, buffer } = await handle.read(Buffer.alloc(CHUNK_BYTES), 0, CHUNK_BYTES, null);
    if (bytesRead === 0) break;
    read += bytesRead;
    // It may have grown since.
    if (read > MOST_BYTES) throw tooLarge();
    const bytes = buffer.subarray(0, bytesRead);
    reader ??= readerFor(bytes, files, name);
    reader.write(bytes);
  }
  if (reader === null) throw new ManifestError('not-a-manifest', 'It is empty.');
  reader.end();
  return files;
}

/** XML begins with `<`, after a byte order mark and white space. */
function readerFor(head: Buffer, files: ListedFiles, name: string): Reader {
  const encoding = encodingOf(head);
  if (encoding === 'utf-8' && !/^(?:\xef\xbb\xbf)?\s*</.test(head.toString('latin1', 0, 1024))) {
    return new ChecksumListReader(files, name);
  }
  const mhl = new MhlReader({
    file: ({ path, size, mtimeMs, hashes }) => files.add(path, size, mtimeMs, sumsIn(hashes)),
  });
  const decoder = new TextDecoder(encoding, { fatal: true });
  const decode = (bytes?: Buffer) => {
    try {
      return bytes === undefined ? decoder.decode() : decoder.decode(bytes, { stream: true });
    } catch {
      throw new ManifestError('damaged', 'Its text is not in the encoding that it begins with.');
    }
  };
  return {
    write: (bytes) => mhl.write(decode(bytes)),
    end() {
      mhl.write(decode());
      mhl.end();
    },
  };
}

/** Values that a list vouches for (ASC MHL specification 1.0, 5.6.4). */
function sumsIn(hashes: readonly WrittenHash[]): Sums {
  const vouched = hashes.filter(({ action }) => action === 'original' || action === 'verified');
  const values = vouched.map(({ format, text }) => [format, normalSum(format, text)] as const);
  return Object.fromEntries(values.filter(([, value]) => value !== null));
}

/** XML 1.0, appendix F: by the byte order mark, else UTF-8. */
function encodingOf(head: Buffer): 'utf-8' | 'utf-16le' | 'utf-16be' {
  if (head[0] === 0xff && head[1] === 0xfe) return 'utf-16le';
  return head[0] === 0xfe && head[1] === 0xff ? 'utf-16be' : 'utf-8';
}

/** The manifest's folder; of a list in a folder `ascmhl` the folder that one lies in (ASC MHL Specification 1.0, 6.3). */
function baseOf(path: PathText): PathText {
  const folder = dirName(path);
  return baseName(folder) === 'ascmhl' ? dirName(folder) : folder;
}

function tooLarge(): ManifestError {
  return new ManifestError(
    'too-large',
    `It is larger than the ${MOST_BYTES / 1024 / 1024} MiB that are read of a manifest.`,
  );
}

export function failureOf(error: unknown): Pick<Extract<ManifestOutcome, { ok: false }>, 'reason' | 'detail'> {
  if (error instanceof ManifestError) return { reason: error.reason, detail: error.message };
  const code = error instanceof Error && 'code' in error ? error.code : null;
  if (code === 'ELOOP') return { reason: 'unreadable', detail: 'It is a symbolic link, which is not followed.' };
  // What the system did not refuse is of the content's making.
  return { reason: code === null ? 'damaged' : 'unreadable', detail: messageOf(error) };
}
