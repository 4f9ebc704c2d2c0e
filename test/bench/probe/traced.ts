import { spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, realpathSync, rmSync } from 'node:fs';
import { join } from 'node:path';

/** What a program took of one file. */
export interface Taken {
  reads: number;
  bytes: number;
}

const READS = 'read,pread64,readv,preadv,preadv2';

/** Runs a program under strace and counts its reads of this file. Throws when it fails, or maps the file instead. */
export function readsOf(file: string, command: string, given: readonly string[]): Taken {
  const folder = mkdtempSync(`${file}-strace-`);
  // One log for each thread: in a common one they cut each other's lines in two.
  const traced = [
    '-ff',
    '-qq',
    '-y',
    '-e',
    `trace=${READS},mmap`,
    '-e',
    'signal=none',
    '-s',
    '0',
    '-o',
    join(folder, 'log'),
  ];
  try {
    const done = spawnSync('strace', [...traced, command, ...given], { encoding: 'utf8', maxBuffer: 64 * 1_048_576 });
    if (done.status !== 0) throw new Error(`${command} failed: ${done.error?.message ?? done.stderr.trim()}`);
    return count(
      readdirSync(folder).flatMap((log) => readFileSync(join(folder, log), 'utf8').split('\n')),
      realpathSync(file),
    );
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function count(lines: readonly string[], file: string): Taken {
  const taken = { reads: 0, bytes: 0 };
  for (const line of lines) {
    if (!line.includes(`<${file}>`)) continue;
    if (line.includes('mmap(')) throw new Error(`the file was mapped: ${line}`);
    const got = Number(/= (\d+)$/.exec(line)?.[1] ?? Number.NaN);
    if (Number.isNaN(got)) throw new Error(`this read cannot be counted: ${line}`);
    taken.reads += 1;
    taken.bytes += got;
  }
  if (taken.reads === 0) throw new Error(`no read of ${file} was seen`);
  return taken;
}
