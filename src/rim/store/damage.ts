import { existsSync, renameSync, statfsSync } from 'node:fs';
import { dirname } from 'node:path';
import { Fault, messageOf } from '../../core/fault.ts';
import type { Failure } from './protocol.ts';

/** The codes a store fails with. */
export type StoreFaultCode =
  | 'state-locked'
  | 'state-unwritable'
  | 'state-full'
  | 'state-newer'
  | 'state-damaged'
  | 'failed';

/** Primary result codes of SQLite, https://www.sqlite.org/rescode.html */
const SQLITE = { perm: 3, busy: 5, readonly: 8, ioerr: 10, corrupt: 11, full: 13, cantopen: 14, notadb: 26 };

/** With less room than this a failed write is taken as a full disk: SQLite needs a few pages of log for any commit. */
const NO_ROOM_BYTES = 64 * 1024;

/** A fault of the store. `message` says what happened, to which file, and what to do. */
export class StoreFault extends Fault {
  declare readonly code: StoreFaultCode;

  constructor(code: StoreFaultCode, message: string, cause?: unknown) {
    super(code, message, cause);
  }
}

/** The primary SQLite result code of a thrown error; `null` for any other error. */
function sqliteCode(thrown: unknown): number | null {
  const code = thrown instanceof Error && 'errcode' in thrown ? thrown.errcode : null;
  return typeof code === 'number' ? code & 0xff : null;
}

/** True when the file itself is bad, not the disk or the caller. */
export function isDamage(thrown: unknown): boolean {
  const code = sqliteCode(thrown);
  return code === SQLITE.corrupt || code === SQLITE.notadb || thrown instanceof DamagedDatabase;
}

export function isBusy(thrown: unknown): boolean {
  return sqliteCode(thrown) === SQLITE.busy;
}

/** Thrown by our own checks: the file can be opened, but it is not what it should be. */
export class DamagedDatabase extends Error {}

/** Turns anything thrown while working on `path` into a fault with a closed code. */
export function storeFault(thrown: unknown, path: string): StoreFault {
  if (thrown instanceof StoreFault) return thrown;
  const why = messageOf(thrown);
  if (isDamage(thrown)) {
    const next =
      'Stop headroomd and start it again: it checks the file, sets a damaged one aside and goes on with a new one.';
    return new StoreFault('state-damaged', `${path} is damaged (${why}). ${next}`, thrown);
  }
  if (isFull(thrown, path)) {
    const next = 'Make room there; nothing that was stored before is lost.';
    return new StoreFault('state-full', `No room left for ${path} (${why}). ${next}`, thrown);
  }
  if (isUnwritable(thrown)) {
    const next = 'Make the folder writable for this user, or name another one with --state.';
    return new StoreFault('state-unwritable', `Cannot write ${path} (${why}). ${next}`, thrown);
  }
  if (isBusy(thrown)) {
    const next = 'Close the program that has it open (a database shell, a backup), then start again.';
    return new StoreFault('state-locked', `${path} is held by another program (${why}). ${next}`, thrown);
  }
  const next = 'Look at the system log for disk errors; if there are none, this is a defect of headroomd.';
  return new StoreFault('failed', `Could not work on ${path} (${why}). ${next}`, thrown);
}

function isFull(thrown: unknown, path: string): boolean {
  const code = sqliteCode(thrown);
  if (code === SQLITE.full || systemCode(thrown) === 'ENOSPC' || systemCode(thrown) === 'EDQUOT') return true;
  return (code === SQLITE.ioerr || code === SQLITE.cantopen) && roomAt(path) < NO_ROOM_BYTES;
}

function roomAt(path: string): number {
  try {
    const { bavail, bsize } = statfsSync(dirname(path));
    return bavail * bsize;
  } catch {
    return Number.POSITIVE_INFINITY;
  }
}

const UNWRITABLE_ERRNO = ['EACCES', 'EPERM', 'EROFS', 'ENOTDIR', 'EEXIST', 'ENOENT', 'ENAMETOOLONG', 'ELOOP', 'EISDIR'];

function isUnwritable(thrown: unknown): boolean {
  const code = sqliteCode(thrown);
  if (code === SQLITE.perm || code === SQLITE.readonly || code === SQLITE.cantopen) return true;
  return UNWRITABLE_ERRNO.includes(systemCode(thrown) ?? '');
}

function systemCode(thrown: unknown): string | null {
  return thrown instanceof Error && 'code' in thrown && typeof thrown.code === 'string' ? thrown.code : null;
}

/** Packs a fault for the way to the main thread. */
export function packFault(thrown: unknown, path: string): Failure {
  const fault = storeFault(thrown, path);
  const { cause } = fault;
  const errcode = cause instanceof Error && 'errcode' in cause ? Number(cause.errcode) : null;
  const packed =
    cause instanceof Error ? { name: cause.name, message: cause.message, code: systemCode(cause), errcode } : null;
  return { code: fault.code, message: fault.message, cause: packed };
}

/** The fault as it was, with its cause, on the main thread. */
export function unpackFault(failure: Failure): StoreFault {
  const { cause } = failure;
  const rebuilt = cause === null ? undefined : Object.assign(new Error(cause.message), { ...cause });
  return new StoreFault(failure.code as StoreFaultCode, failure.message, rebuilt);
}

/**
 * Moves a damaged database out of the way, with its log, and returns its new path. It is never deleted: somebody may
 * get something out of it. `at` is ms since 1970.
 */
export function setAside(path: string, at: number): string {
  const aside = freeName(`${path}.damaged-${fileTime(at)}`);
  for (const suffix of ['-wal', '-shm', '-journal', '']) {
    if (existsSync(path + suffix)) renameSync(path + suffix, aside + suffix);
  }
  return aside;
}

/** `2027-03-04T04-00-00Z`: sorts by time and is a legal name on every file system. */
export function fileTime(at: number): string {
  return new Date(at).toISOString().slice(0, 19).replaceAll(':', '-').concat('Z');
}

/** The name itself, or with `-2`, `-3` ... when it is taken. */
export function freeName(wanted: string): string {
  let name = wanted;
  for (let n = 2; existsSync(name); n += 1) name = `${wanted}-${n}`;
  return name;
}
