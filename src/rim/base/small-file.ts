import { closeSync, constants, fstatSync, readSync } from 'node:fs';
import { getSystemErrorMessage } from 'node:util';
import { messageOf } from '../../core/fault.ts';
import type { ContentOutcome } from '../../core/root-port.ts';
import { openUnnotedSync } from './open-unnoted.ts';

/** A symbolic link is not followed, and a pipe does not hold us up. */
const FLAGS = constants.O_RDONLY | constants.O_NOFOLLOW | constants.O_NONBLOCK;

/** The whole content of a file of at most so many bytes. Never throws; `detail` names no path. */
export function readSmallFile(path: string | Buffer, most: number): ContentOutcome {
  let fd: number | null = null;
  try {
    fd = openUnnotedSync(path, FLAGS);
    const stat = fstatSync(fd);
    if (!stat.isFile()) return { ok: false, detail: 'it is no regular file' };
    if (stat.size > most) return { ok: false, detail: `it has ${stat.size} bytes, more than any such file` };
    const bytes = new Uint8Array(stat.size);
    let done = 0;
    for (let got = -1; got !== 0 && done < bytes.length; done += got)
      got = readSync(fd, bytes, done, bytes.length - done, done);
    return done === bytes.length ? { ok: true, bytes } : { ok: false, detail: `it ends at ${done} bytes` };
  } catch (thrown) {
    const { errno, code } = thrown as NodeJS.ErrnoException;
    return { ok: false, detail: errno === undefined ? messageOf(thrown) : `${getSystemErrorMessage(errno)} (${code})` };
  } finally {
    if (fd !== null) closeSync(fd);
  }
}
