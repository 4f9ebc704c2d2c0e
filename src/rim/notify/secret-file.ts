import { closeSync, constants, fstatSync, openSync, readSync } from 'node:fs';
import { join } from 'node:path';
import { Fault, messageOf } from '../../core/fault.ts';
import { display } from '../../core/present/escape.ts';

const LONGEST = 4_096;
const OF_SERVICE = 'credential:';

/**
 * What a file holds that nobody else may read, without a line end behind it. `written`: an absolute path, or
 * `credential:NAME`, a file of the service's credentials (systemd.exec(5), LoadCredential).
 * @throws Fault `bad-configuration`
 */
export function readSecret(written: string, credentialsDir: string | undefined): string {
  const isCredential = written.startsWith(OF_SERVICE);
  if (isCredential && credentialsDir === undefined)
    throw trouble(written, 'no service handed credentials to this process (CREDENTIALS_DIRECTORY is not set)');
  const path = isCredential ? join(credentialsDir ?? '', written.slice(OF_SERVICE.length)) : written;
  let text: string;
  try {
    // What systemd hands over is the service's alone, whatever its mode shows of the rights that are noted beside it.
    text = readAlone(path, isCredential ? 0o007 : 0o077);
  } catch (error) {
    throw error instanceof Fault ? error : trouble(written, `it cannot be read: ${messageOf(error)}`);
  }
  const secret = text.replace(/\r?\n$/, '');
  if (secret === '') throw trouble(written, 'it is empty');
  return secret;
}

function readAlone(path: string, others: number): string {
  const fd = openSync(path, constants.O_RDONLY | constants.O_NONBLOCK);
  try {
    const stat = fstatSync(fd);
    if (!stat.isFile()) throw trouble(path, 'it is no file');
    if ((stat.mode & others) !== 0)
      throw trouble(
        path,
        `others may read or write it (mode ${(stat.mode & 0o777).toString(8)}); take that from them: chmod 600`,
      );
    if (stat.size > LONGEST) throw trouble(path, `it has more than ${LONGEST} bytes`);
    const bytes = Buffer.alloc(LONGEST);
    return bytes.toString('utf8', 0, readSync(fd, bytes, 0, LONGEST, 0));
  } finally {
    closeSync(fd);
  }
}

function trouble(path: string, why: string): Fault {
  return new Fault('bad-configuration', `The secret in ${display(path)} cannot be used: ${why}.`);
}
