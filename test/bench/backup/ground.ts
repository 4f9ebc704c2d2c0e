import { execFileSync } from 'node:child_process';
import { randomFillSync } from 'node:crypto';
import { lstatSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { CopyItem } from '../../../src/core/backup/copy-port.ts';
import { Noise } from '../../../src/rim/measure/noise.ts';

/** Source files and a shelf, on the drive below the temporary folder. */
export interface Ground {
  volume: string;
  /** Another one after each `nextShelf`. */
  shelf: string;
  items: CopyItem[];
  totalBytes: number;
  /** The same bytes as one file. */
  stream: string;
  /** Nothing is in the page cache, and nothing waits to be written. */
  cold(): void;
  /**
   * An empty shelf in place of the last one. `keep`: that one stays until the end. ext4 passes over inodes that were removed lately, one by one,
   * so that after thousands of deletions each new file costs several times what it costs otherwise.
   */
  nextShelf(keep: boolean): void;
  remove(): void;
}

export const MARKER = '.headroomd-shelf';
const FOLDER = 'Tidewater Sessions/day 1/A001';
const REQUEST = 4 * 1_048_576;

/** @throws where nobody but user 0 could empty the page cache */
export function openGround(files: number, bytes: number): Ground {
  if (process.geteuid?.() !== 0) throw new Error('it takes user 0 to begin with a cold cache');
  const place = mkdtempSync(join(tmpdir(), 'headroomd-backup-bench-'));
  const volume = join(place, 'stripe');
  mkdirSync(join(volume, FOLDER), { recursive: true });
  const noise = new Noise(REQUEST, randomFillSync);
  const items = Array.from({ length: files }, (_, id) => {
    const path = `${FOLDER}/A001_${String(id).padStart(6, '0')}.dpx`;
    writeNoise(join(volume, path), bytes, noise);
    const { size, mtimeNs, ctimeNs, ino } = lstatSync(join(volume, path), { bigint: true });
    return { id, source: path, target: path, size: Number(size), mtimeNs, ctimeNs, inode: ino };
  });
  const totalBytes = files * bytes;
  const first = join(volume, items[0]?.source ?? '');
  const stream = files === 1 ? first : join(place, 'stream');
  if (files > 1) writeNoise(stream, totalBytes, noise);
  const ground: Ground = {
    ...{ volume, shelf: newShelf(place), items, totalBytes, stream },
    cold: () => {
      execFileSync('sync');
      writeFileSync('/proc/sys/vm/drop_caches', '3');
    },
    nextShelf: (keep) => {
      if (!keep) rmSync(ground.shelf, { recursive: true });
      ground.shelf = newShelf(place);
    },
    remove: () => rmSync(place, { recursive: true, force: true }),
  };
  return ground;
}

function newShelf(place: string): string {
  const shelf = mkdtempSync(join(place, 'shelf-'));
  writeFileSync(join(shelf, MARKER), 'shelf-a');
  return shelf;
}

function writeNoise(path: string, bytes: number, noise: Noise): void {
  writeFileSync(path, '', { flag: 'wx' });
  for (let done = 0; done < bytes; done += REQUEST)
    writeFileSync(path, noise.next().subarray(0, Math.min(REQUEST, bytes - done)), { flag: 'a' });
}
