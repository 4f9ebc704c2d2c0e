import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { basename } from 'node:path';
import type { Finding } from '../../../src/core/intake/container/finding.ts';
import { headerLook } from '../../../src/core/intake/container/look.ts';
import type { HeaderLook, PictureTrack } from '../../../src/core/intake/container/structure.ts';
import { wholeness } from '../../../src/core/intake/container/wholeness.ts';

/** The headline facts of a file: opened, looked at, closed. */
export function lookAt(path: string): HeaderLook {
  const fd = openSync(path, 'r');
  try {
    return headerLook((position, length) => readAt(fd, position, length), fstatSync(fd).size, basename(path));
  } finally {
    closeSync(fd);
  }
}

/** Whether a file is all there: what the daemon asks before it has the file probed. */
export function judge(path: string): Finding {
  const fd = openSync(path, 'r');
  try {
    return wholeness((position, length) => readAt(fd, position, length), fstatSync(fd).size, basename(path));
  } finally {
    closeSync(fd);
  }
}

function readAt(fd: number, position: number, length: number): Uint8Array {
  const into = Buffer.allocUnsafe(length);
  let done = 0;
  while (done < length) {
    const got = readSync(fd, into, done, length - done, position + done);
    if (got === 0) break;
    done += got;
  }
  return into.subarray(0, done);
}

/** Throws where the headline facts of a clip are not there: whatever it took to find nothing would be measured. */
export function checkFacts(path: string): void {
  const { structure } = lookAt(path);
  const name = basename(path);
  if (structure === null) throw new Error(`headerLook tells no structure of ${name}`);
  const picture = structure.tracks.find((track): track is PictureTrack => track.type === 'picture');
  const missing = (['codecId', 'width', 'height', 'frameRate', 'frames'] as const).filter(
    (fact) => (picture?.[fact] ?? null) === null,
  );
  if (missing.length > 0) throw new Error(`headerLook tells no ${missing.join(', ')} of ${name}`);
}
