import * as nodeFs from 'node:fs';
import { wholeness } from '../../core/intake/container/wholeness.ts';
import { baseName } from '../../core/intake/path-text.ts';
import type { FileStat, PathText } from '../../core/model.ts';
import type { Evidence, Wholeness, Writers } from '../../core/root-port.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { toFileStat } from '../base/file-stat.ts';
import { InsideRoot } from './inside-root.ts';
import { isMissing } from './missing-error.ts';
import type { OpenFiles } from './open-files.ts';
import { describe } from './read-folder.ts';
import type { Steps } from './slices.ts';
import { findWriters, type ProcFs } from './writers.ts';

/** The part of `node:fs` that looking into files takes. */
export type InspectFs = Pick<typeof nodeFs, 'lstatSync' | 'openSync' | 'fstatSync' | 'readSync' | 'closeSync'>;

export interface InspectOptions {
  fs: InspectFs;
  proc: ProcFs;
  base: string;
  /** The root's: what lies beyond is not looked at. */
  device: bigint;
  /** Writers on this file system may be invisible. */
  remote: boolean;
  uid: number;
  pid: number;
  /** Files whose writers are known, and are looked after. */
  openFiles?: Pick<OpenFiles, 'isOpen' | 'found'>;
}

interface Look {
  path: PathText;
  stat: FileStat | null;
  error: string | null;
  wholeness: Wholeness;
  detail: string | null;
  /** The writer that was seen before still has it open. */
  open: boolean;
}

/**
 * Looks at each file: its structure first, then all open files of all processes once, then each file's stat, so that
 * what changed in between shows in the stat. Where a writer is known neither is needed: such a file is not complete
 * whatever it looks like. Order and number of the answers are those of the paths.
 */
export function* inspect(paths: readonly PathText[], options: InspectOptions): Steps<Evidence[]> {
  const looks: Look[] = [];
  for (const path of paths) {
    looks.push(lookInto(path, options));
    yield undefined;
  }
  const questions = looks.flatMap(({ stat, open }) => (stat === null || open ? [] : [stat]));
  const writers = yield* findWriters(questions, {
    fs: options.proc,
    uid: options.uid,
    pid: options.pid,
    onWriter: (question, writer) => options.openFiles?.found(question, writer),
  });
  const evidence: Evidence[] = [];
  for (const look of looks) {
    evidence.push(look.open ? stillOpen(look) : answer(look, writers, options));
    yield undefined;
  }
  return evidence;
}

function stillOpen({ open: _, ...seen }: Look): Evidence {
  return { ...seen, writers: 'open' };
}

function answer(look: Look, writers: Map<PathText, Writers>, options: InspectOptions): Evidence {
  const { open: _, ...seen } = lookAgain(look, options);
  return { ...seen, writers: answerFor(look, writers, options.remote) };
}

/** On a remote file system a writer that is seen is one; that none is seen says nothing. */
function answerFor(look: Look, writers: Map<PathText, Writers>, remote: boolean): Writers {
  const seen = writers.get(look.path) ?? 'unknown';
  return seen === 'none' && remote ? 'unknown' : seen;
}

function lookInto(path: PathText, options: InspectOptions): Look {
  const nothing: Look = { path, stat: null, error: null, wholeness: 'no-structure', detail: null, open: false };
  try {
    const stat = statFile(path, options);
    if (stat === null) return nothing;
    if (options.openFiles?.isOpen(stat) === true) return { ...nothing, stat, open: true };
    return { ...nothing, stat, ...readStructure(path, stat, options) };
  } catch (thrown) {
    return { ...nothing, error: describe(thrown as NodeJS.ErrnoException), stat: attemptStat(path, options) };
  }
}

/** `null`: gone, or no regular file any more. */
function statFile(path: PathText, options: InspectOptions): FileStat | null {
  try {
    if (!new InsideRoot(options).reaches(path)) return null;
    const stat = options.fs.lstatSync(toAbsolute(options.base, path), { bigint: true });
    return stat.isFile() ? toFileStat(path, stat) : null;
  } catch (thrown) {
    if (isMissing(thrown as NodeJS.ErrnoException)) return null;
    throw thrown;
  }
}

function attemptStat(path: PathText, options: InspectOptions): FileStat | null {
  try {
    return statFile(path, options);
  } catch {
    return null;
  }
}

function lookAgain(look: Look, options: InspectOptions): Look {
  try {
    return { ...look, stat: statFile(look.path, options) };
  } catch (thrown) {
    return { ...look, stat: null, error: describe(thrown as NodeJS.ErrnoException) };
  }
}

function readStructure(path: PathText, stat: FileStat, options: InspectOptions): Pick<Look, 'wholeness' | 'detail'> {
  const fd = openUntouched(path, options);
  try {
    const now = options.fs.fstatSync(fd, { bigint: true });
    if (!now.isFile() || now.ino !== stat.ino || now.dev !== stat.dev) {
      return { wholeness: 'cut', detail: 'another file took its place while it was read' };
    }
    const read = (position: number, length: number) => readAt(fd, position, length, options);
    const { verdict, detail } = wholeness(read, Number(now.size), baseName(path));
    return { wholeness: verdict, detail };
  } finally {
    options.fs.closeSync(fd);
  }
}

/**
 * Opened without following a link, without waiting (a pipe may have taken the file's place) and, where we own the file,
 * without leaving a time of access behind.
 */
function openUntouched(path: PathText, options: InspectOptions): number {
  const { O_RDONLY, O_NOFOLLOW, O_NONBLOCK, O_NOATIME } = nodeFs.constants;
  const target = toAbsolute(options.base, path);
  const flags = O_RDONLY | O_NOFOLLOW | O_NONBLOCK;
  try {
    return options.fs.openSync(target, flags | O_NOATIME);
  } catch (thrown) {
    if ((thrown as NodeJS.ErrnoException).code !== 'EPERM') throw thrown;
    return options.fs.openSync(target, flags);
  }
}

/** Fewer bytes than asked for only at the end of the file. */
function readAt(fd: number, position: number, length: number, options: InspectOptions): Uint8Array {
  const buffer = new Uint8Array(length);
  let filled = 0;
  while (filled < length) {
    const got = options.fs.readSync(fd, buffer, filled, length - filled, position + filled);
    if (got === 0) break;
    filled += got;
  }
  return buffer.subarray(0, filled);
}
