import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { hostileFiles } from '../../rim/probe/hostile.ts';
import type { Figure } from '../figure.ts';
import { namesFor } from './clips.ts';
import type { Ground } from './ground.ts';
import { startProgram } from './program.ts';
import type { Lateness } from './programs/lateness.ts';

const CLIPS = 2000;
const MOST_P99 = 10;
const MOST = 50;

interface Host extends Lateness {
  answered: number;
  asked: number;
}

/**
 * How late timers are in the process that holds the pool while it has 2,000 clips probed, hostile files among them, beside
 * an idle process at the same time: on a busy machine its timers are late as well.
 */
export async function measureLoop(ground: Ground): Promise<Figure[]> {
  const { movies, mxf, others } = ground.clips();
  const clips = [...movies, ...mxf, ...others];
  const folder = ground.place('loop');
  const names = namesFor(clips, Math.ceil(CLIPS / clips.length), folder);
  // In the order of their names, which begin with the number of the copy, hostile ones come among the good ones.
  for (const [number, { name, bytes }] of hostileFiles.entries())
    writeFileSync(join(folder, `${number}-~${name}`), bytes());
  const idle = startProgram<Lateness>('idle-loop.ts', []);
  const host = await startProgram<Host>('probe-all.ts', [folder]).result;
  idle.finish();
  const beside = await idle.result;
  if (host.asked !== names.length + hostileFiles.length || host.answered < names.length) {
    throw new Error(`of ${names.length} clips ${host.answered} could be probed`);
  }
  const figure = (what: 'p99' | 'max', most: number): Figure => ({
    name: `loop delay while ${host.asked} clips are probed, ${hostileFiles.length} hostile, ${what}`,
    value: host[what],
    unit: 'ms',
    peer: { name: 'an idle loop, same time', value: beside[what] },
    goal: `<= ${most} ms above it`,
    holds: host[what] - beside[what] <= most,
  });
  return [figure('p99', MOST_P99), figure('max', MOST)];
}
