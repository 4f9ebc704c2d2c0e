import { spawnSync } from 'node:child_process';
import { readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { copyAll, type JobGround, traced } from './jobs.ts';

/** The n-th time that a thread makes a call: strace(1) counts each call in each thread by itself. */
export interface CallPoint {
  call: string;
  index: number;
}

/** Why calls cannot be made to fail here; `null` when they can. */
export function whyNoStrace(): string | null {
  const tried = spawnSync('strace', ['-f', '-qq', '-o', '/dev/null', 'true'], { encoding: 'utf8' });
  if (tried.error !== undefined) return tried.error.message;
  return tried.status === 0 ? null : tried.stderr.trim();
}

/** Every point of a job that goes well, from its order on, in no thread's order. */
export async function pointsOf(ground: JobGround): Promise<CallPoint[]> {
  const trace = join(tmpdir(), `headroomd-trace-${process.pid}`);
  try {
    await copyAll(ground, traced('-o', trace));
    return readPoints(readFileSync(trace, 'utf8'));
  } finally {
    rmSync(trace, { force: true });
  }
}

function readPoints(trace: string): CallPoint[] {
  const counts = new Map<string, number>();
  const points = new Map<string, CallPoint>();
  for (const line of trace.split('\n')) {
    const [, thread, call] = /^(\d+) +([a-z_0-9]+)\(/.exec(line) ?? [];
    if (thread === undefined || call === undefined) continue;
    const key = `${thread} ${call}`;
    const index = (counts.get(key) ?? 0) + 1;
    counts.set(key, index);
    points.set(`${call} ${index}`, { call, index });
  }
  return [...points.values()];
}
