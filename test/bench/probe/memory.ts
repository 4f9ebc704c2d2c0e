import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { hostileFiles } from '../../rim/probe/hostile.ts';
import type { Figure } from '../figure.ts';
import { namesFor } from './clips.ts';
import type { Ground } from './ground.ts';
import { startProgram } from './program.ts';
import type { Held } from './programs/hold-pool.ts';
import type { Peak } from './programs/hostile-peak.ts';

const PROBES = 10_000;
/** Until then buffers and compiled code are still being made. */
const WARM = 1000;
const FLAT = { heap: 1, resident: 5 };
const MOST_MB = 100;
/** Names of each good clip among the hostile ones. */
const AMONG = 10;

/** What the process that holds the pool, and the pool's threads with it, keep of many probes, and take for hostile files. */
export async function measureMemory(ground: Ground): Promise<Figure[]> {
  const { movies, mxf, others } = ground.clips();
  const clips = [...movies, ...mxf, ...others];
  const [good, mixed] = [ground.place('good'), ground.place('mixed')];
  namesFor(clips, 1, good);
  const names = namesFor(clips, AMONG, mixed);
  for (const [number, { name, bytes }] of hostileFiles.entries())
    writeFileSync(join(mixed, `${number}-~${name}`), bytes());
  const rows = await startProgram<Held[]>('hold-pool.ts', [good, String(PROBES)]).result;
  const warm = rows.filter(({ probes }) => probes > WARM);
  const peak = await startProgram<Peak>('hostile-peak.ts', [mixed]).result;
  if (peak.answered < names.length) throw new Error(`of ${names.length} clips ${peak.answered} could be probed`);
  const growth = (what: 'heap' | 'resident', name: string): Figure => {
    const value = (slopeOf(warm.map((row) => [row.probes, row[what]])) * PROBES) / 1e6;
    const goal = `flat, <= ${FLAT[what]} MB`;
    return { name, value, unit: 'MB', peer: null, goal, holds: value <= FLAT[what] };
  };
  const above = (peak.peak - peak.idle) / 1e6;
  return [
    growth('heap', `memory: heap after collection, growth over ${PROBES} probes`),
    growth('resident', `memory: resident, all threads, growth over ${PROBES} probes`),
    {
      name: `memory: peak while ${peak.asked} clips are probed, ${hostileFiles.length} hostile, above the idle process`,
      value: above,
      unit: 'MB',
      peer: null,
      goal: `<= ${MOST_MB} MB`,
      holds: above <= MOST_MB,
    },
  ];
}

/** The slope of the straight line through these points, by least squares. */
function slopeOf(points: readonly (readonly [x: number, y: number])[]): number {
  const mean = (axis: 0 | 1) => points.reduce((sum, point) => sum + point[axis], 0) / points.length;
  const [meanX, meanY] = [mean(0), mean(1)];
  const across = points.reduce((sum, [x, y]) => sum + (x - meanX) * (y - meanY), 0);
  return across / points.reduce((sum, [x]) => sum + (x - meanX) ** 2, 0);
}
