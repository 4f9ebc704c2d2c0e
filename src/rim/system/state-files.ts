import { randomBytes } from 'node:crypto';
import {
  chmodSync,
  closeSync,
  fsyncSync,
  mkdirSync,
  openSync,
  readFileSync,
  renameSync,
  statSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { Fault, messageOf } from '../../core/fault.ts';

/** Small files beside the databases in the state folder. All are the user's alone (0600 in a folder of 0700). */
const names = { socket: 'control.sock', token: 'token', snapshot: 'last-snapshot.json' } as const;

export function socketPath(stateDir: string): string {
  return join(stateDir, names.socket);
}

/**
 * Makes the state folder when it is missing and takes other users' rights from it.
 * @throws Fault `state-unwritable`
 */
export function prepareStateDir(stateDir: string): void {
  try {
    if (statSync(stateDir, { throwIfNoEntry: false })?.isFile()) throw new Error('it is a file, not a folder');
    mkdirSync(stateDir, { recursive: true, mode: 0o700 });
    chmodSync(stateDir, 0o700);
  } catch (error) {
    throw new Fault(
      'state-unwritable',
      `The state folder ${stateDir} cannot be used: ${messageOf(error)}. Name another with --state DIR, or make it a folder that you may write.`,
      error,
    );
  }
}

/** The secret that the page asks for; made once per state folder, kept over restarts. */
export function pageToken(stateDir: string): string {
  const file = join(stateDir, names.token);
  const known = readIfThere(file)?.trim();
  if (known !== undefined && /^[0-9a-f]{64}$/.test(known)) return known;
  const token = randomBytes(32).toString('hex');
  writeAtomically(file, `${token}\n`);
  return token;
}

/** The snapshot a stopped daemon left, with the instant it was written; `null` when there is none that can be read. */
export function storedSnapshot(stateDir: string): { json: string; writtenAt: number } | null {
  const file = join(stateDir, names.snapshot);
  const json = readIfThere(file);
  return json === undefined ? null : { json, writtenAt: statSync(file).mtimeMs };
}

export function storeSnapshot(stateDir: string, json: string): void {
  writeAtomically(join(stateDir, names.snapshot), json);
}

function readIfThere(file: string): string | undefined {
  try {
    return readFileSync(file, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
    throw error;
  }
}

/** Temp name, fsync, rename: a reader sees the old content or the new one, never half of it. */
function writeAtomically(file: string, content: string): void {
  const temporary = `${file}.new`;
  const fd = openSync(temporary, 'w', 0o600);
  try {
    writeSync(fd, content);
    fsyncSync(fd);
  } finally {
    closeSync(fd);
  }
  renameSync(temporary, file);
}
