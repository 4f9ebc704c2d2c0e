import { spawn } from 'node:child_process';
import { open } from 'node:fs/promises';
import type { CallPath } from './steps.ts';

/** With so few files each is flushed for itself: that tells exactly which one failed. */
const FEW = 8;

export interface FlushResult {
  /** Per file, the system's code; `null`: it is durable as far as the drive tells. */
  codes: (string | null)[];
  /** All at once failed: what each says by itself may not be all. */
  doubtful: boolean;
}

/**
 * Makes files durable: with one call for the whole file system where they are many, else or when that fails file by file. What failed
 * once is not asked again: the kernel calls its pages clean from then on.
 */
export async function flush(root: number, paths: readonly CallPath[]): Promise<FlushResult> {
  const many = paths.length > FEW;
  if (many && (await flushAll(root))) return { codes: paths.map(() => null), doubtful: false };
  const codes: (string | null)[] = [];
  for (const path of paths) codes.push(await flushOne(path));
  return { codes, doubtful: many };
}

/** syncfs(2), which Node cannot call, by sync(1), beside the event loop. */
function flushAll(root: number): Promise<boolean> {
  return new Promise((resolve) => {
    const sync = spawn('sync', ['-f', '/proc/self/fd/3'], { stdio: ['ignore', 'ignore', 'ignore', root] });
    sync.once('error', () => resolve(false)).once('exit', (code) => resolve(code === 0));
  });
}

async function flushOne(path: CallPath): Promise<string | null> {
  try {
    await using file = await open(path as Buffer, 'r');
    await file.datasync();
    return null;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code ?? 'failed';
  }
}
