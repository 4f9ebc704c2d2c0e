import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import type { Ground } from './ground.ts';

/** dd(1): one stream past the cache to the shelf, flushed, and read back past the cache. Seconds. */
export function ddTwice({ stream, shelf }: Ground): number {
  const target = join(shelf, 'stream');
  return timed(() => {
    dd(`if=${stream}`, `of=${target}`, 'bs=8M', 'iflag=direct', 'oflag=direct', 'conv=fdatasync');
    dd(`if=${target}`, 'of=/dev/null', 'bs=8M', 'iflag=direct');
  });
}

function dd(...args: string[]): void {
  execFileSync('dd', [...args, 'status=none'], { stdio: ['ignore', 'ignore', 'inherit'] });
}

/** rsync(1): copied and flushed, then once more with a comparison of checksums, each with a cold cache. Seconds without emptying it. */
export function rsyncTwice(ground: Ground): number {
  const first = rsyncOnce(ground);
  ground.cold();
  return first + timed(() => rsync(ground, '-a', '--checksum'));
}

/** Copied and flushed, not verified. Seconds. */
export function rsyncOnce(ground: Ground): number {
  return timed(() => {
    rsync(ground, '-a');
    execFileSync('sync', ['-f', ground.shelf]);
  });
}

function rsync({ volume, shelf }: Ground, ...options: string[]): void {
  execFileSync('rsync', [...options, `${volume}/`, `${shelf}/`], { stdio: ['ignore', 'ignore', 'inherit'] });
}

function timed(work: () => void): number {
  const began = performance.now();
  work();
  return (performance.now() - began) / 1000;
}
