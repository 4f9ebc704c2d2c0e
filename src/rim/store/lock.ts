import {
  chmodSync,
  closeSync,
  existsSync,
  fsyncSync,
  mkdirSync,
  openSync,
  readFileSync,
  rmSync,
  writeSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { messageOf } from '../../core/fault.ts';
import { isBusy, isDamage, StoreFault, setAside, storeFault } from './damage.ts';

/*
 * One daemon per state folder. Node has no file locks of its own, SQLite has: an exclusive transaction on a database
 * that holds nothing, kept open for the life of the process, which the kernel ends even on kill -9.
 * `lock.pid` beside it says who holds it, and, being removed only by an orderly stop, whether the last stop was one.
 *
 * A lock of this kind is dropped when the process closes any descriptor of the file, so lock.db is opened by SQLite alone.
 */

export interface StateLock {
  /** The last daemon on this state did not come to its orderly end. */
  unclean: boolean;
  /** Lets go. `clean` false leaves the mark that makes the next start check the databases. */
  release(clean: boolean): void;
}

/** Makes the state folder if needed and takes it for this process. Throws `StoreFault`. */
export function lockState(stateDir: string, at: number): StateLock {
  makeFolder(stateDir);
  const database = join(stateDir, 'lock.db');
  const pidFile = join(stateDir, 'lock.pid');
  const held = hold(database, pidFile, at);
  try {
    const unclean = existsSync(pidFile);
    writePid(pidFile);
    return {
      unclean,
      release(clean) {
        if (clean) rmSync(pidFile, { force: true });
        held.close();
      },
    };
  } catch (error) {
    held.close();
    throw storeFault(error, pidFile);
  }
}

function makeFolder(stateDir: string): void {
  try {
    if (mkdirSync(stateDir, { recursive: true, mode: 0o700 }) !== undefined) chmodSync(stateDir, 0o700);
  } catch (error) {
    throw storeFault(error, stateDir);
  }
}

function hold(path: string, pidFile: string, at: number): DatabaseSync {
  let database: DatabaseSync | null = null;
  try {
    createPrivate(path);
    database = new DatabaseSync(path, { timeout: 0 });
    database.exec('PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE');
    return database;
  } catch (error) {
    database?.close();
    if (isBusy(error)) throw lockedBy(path, pidFile, error);
    if (!isDamage(error)) throw storeFault(error, path);
    // It holds nothing; still, what is not ours is moved aside and not overwritten.
    setAside(path, at);
    return hold(path, pidFile, at);
  }
}

function lockedBy(path: string, pidFile: string, cause: unknown): StoreFault {
  const pid = readPid(pidFile);
  const who = pid === null ? 'another headroomd' : `another headroomd (process ${pid})`;
  const next = 'Ask that one with "headroomd status", stop it first, or name another folder with --state.';
  return new StoreFault('state-locked', `The state folder ${dirname(path)} is in use by ${who}. ${next}`, cause);
}

/** The process named in the file, if there is one and it lives. */
function readPid(pidFile: string): number | null {
  try {
    const pid = Number.parseInt(readFileSync(pidFile, 'utf8'), 10);
    if (!(pid > 0)) return null;
    process.kill(pid, 0);
    return pid;
  } catch (error) {
    // EPERM: it lives and belongs to somebody else.
    return messageOf(error).includes('EPERM') ? Number.parseInt(readFileSync(pidFile, 'utf8'), 10) : null;
  }
}

function writePid(pidFile: string): void {
  const file = openSync(pidFile, 'w', 0o600);
  try {
    writeSync(file, `${process.pid}\n`);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
  syncFolder(dirname(pidFile));
}

/** Makes an empty file that the user alone can read, whatever the umask; leaves one that exists untouched and unopened. */
export function createPrivate(path: string): void {
  try {
    closeSync(openSync(path, 'wx', 0o600));
    chmodSync(path, 0o600);
  } catch (error) {
    if (!existsSync(path)) throw error;
  }
}

/** Makes names in a folder durable. */
function syncFolder(dir: string): void {
  const folder = openSync(dir, 'r');
  try {
    fsyncSync(folder);
  } finally {
    closeSync(folder);
  }
}
