import { createHash } from 'node:crypto';
import { closeSync, constants, fstatSync, readSync } from 'node:fs';
import { c4Of, normalValue } from '../../core/backup/mhl-hash-value.ts';
import type { HashAction, HashEntry, ListedFile } from '../../core/backup/mhl-model.ts';
import type { PathText } from '../../core/model.ts';
import { openUnnotedSync } from '../base/open-unnoted.ts';
import { safePath } from './listed-files.ts';
import { ManifestError } from './manifest-error.ts';
import { MhlReader, type WrittenFile, type WrittenHash } from './mhl.ts';

const FLAGS = constants.O_RDONLY | constants.O_NOFOLLOW | constants.O_NONBLOCK;
const CHUNK_BYTES = 1024 * 1024;
/** 200,000 files take about 60 MB. */
const MOST_BYTES = 1024 * 1024 * 1024;
const MOST_FILES = 2_000_000;

/** One manifest of a history, as far as it could be read. */
export interface HistoryList {
  c4: string;
  bytes: number;
  files: ListedFile[];
  ignore: string[];
  tool: string;
  /** Why it cannot be used; `null`: it can. Its C4 identifier stands all the same. */
  trouble: string | null;
}

/**
 * Reads a manifest whole: what it lists, and its C4 identifier, in one pass.
 * @throws the system's error, or a ManifestError when it is no regular file
 */
export function readHistoryList(path: string | Buffer): HistoryList {
  const fd = openUnnotedSync(path, FLAGS);
  try {
    const stat = fstatSync(fd);
    if (!stat.isFile()) throw new ManifestError('not-a-manifest', 'It is no regular file.');
    if (stat.size > MOST_BYTES) throw new ManifestError('too-large', `It has ${stat.size} bytes, more than are read.`);
    const sha512 = createHash('sha512');
    const collected = new Collector();
    const chunk = Buffer.alloc(CHUNK_BYTES);
    for (let got = readSync(fd, chunk); got > 0; got = readSync(fd, chunk)) {
      sha512.update(chunk.subarray(0, got));
      collected.write(chunk.subarray(0, got));
    }
    return { c4: c4Of(sha512.digest()), bytes: stat.size, ...collected.end() };
  } finally {
    closeSync(fd);
  }
}

/** Gathers what a list says, up to what is wrong with it. */
class Collector {
  readonly #files = new Map<PathText, ListedFile>();
  readonly #ignore: string[] = [];
  readonly #decoder = new TextDecoder('utf-8', { fatal: true });
  #tool = '';
  #trouble: string | null = null;
  readonly #reader = new MhlReader({
    file: (file) => this.#list(file),
    ignored: (pattern) => this.#ignore.push(pattern),
    tool: (name) => {
      this.#tool = name;
    },
  });

  write(bytes: Buffer): void {
    this.#attempt(() => this.#reader.write(this.#decoder.decode(bytes, { stream: true })));
  }

  end(): Omit<HistoryList, 'c4' | 'bytes'> {
    this.#attempt(() => {
      this.#reader.write(this.#decoder.decode());
      this.#reader.end();
    });
    return { files: [...this.#files.values()], ignore: this.#ignore, tool: this.#tool, trouble: this.#trouble };
  }

  #attempt(read: () => void): void {
    if (this.#trouble !== null) return;
    try {
      read();
    } catch (error) {
      this.#trouble = error instanceof ManifestError ? error.message : 'Its text is no UTF-8.';
    }
  }

  #list(file: WrittenFile): void {
    const path = pathOf(file.path);
    if (this.#files.size >= MOST_FILES) throw new ManifestError('too-large', `It lists more than ${MOST_FILES} files.`);
    const listed = {
      path,
      size: file.size,
      modifiedAt: null,
      hashes: file.hashes.flatMap(hashOf),
      previousPath: file.previousPath === null ? null : pathOf(file.previousPath),
    };
    const known = this.#files.get(path);
    // A path stands once; lists of others that tell its formats apart are understood.
    this.#files.set(path, known === undefined ? listed : { ...known, hashes: [...known.hashes, ...listed.hashes] });
  }
}

function pathOf(written: PathText): PathText {
  const path = safePath(written);
  if (path === null) throw new ManifestError('damaged', 'A path in it leads out of its folder, or can be no file.');
  return path;
}

/** A value that is none of its format proves nothing, and is left out. */
function hashOf({ format, text, action }: WrittenHash): HashEntry[] {
  const value = normalValue(format, text);
  // A text of its own: the parser's would keep the whole piece that it was cut from.
  return value === null
    ? []
    : [{ format, value: Buffer.from(value).toString('latin1'), action: actionOf(action), hashedAt: null }];
}

function actionOf(action: string | null): HashAction | null {
  return action === 'original' || action === 'verified' || action === 'failed' ? action : null;
}
