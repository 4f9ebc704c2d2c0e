import { lstatSync } from 'node:fs';
import { toFileStat } from '../../../src/rim/base/file-stat.ts';
import { createProber, type Prober } from '../../../src/rim/probe/pool.ts';
import type { Figure } from '../figure.ts';
import { namesFor } from './clips.ts';
import { type Cost, costOf, mediainfoBatch, perClip } from './cost.ts';
import type { Ground } from './ground.ts';
import { judge } from './look-at.ts';

const ROUNDS = 5;
const NAMES = 10;
const MOST = 1.5;

/**
 * All that is asked of a clip: whether it is all there, and the whole probe as the daemon makes it (worker thread, watchdog,
 * both tiers, file checked before and after), beside the `mediainfo` tool reading the same files in one process.
 */
export async function measureFull(ground: Ground): Promise<Figure[]> {
  const { movies, mxf, others } = ground.clips();
  const prober = createProber({ now: () => performance.now() });
  try {
    const names = namesFor([...movies, ...mxf, ...others], NAMES, ground.place('full'));
    await both(prober, names); // the worker and its library are there before anything is measured
    const rounds: { ours: Cost; peer: Cost }[] = [];
    for (let round = 0; round < ROUNDS; round++) {
      rounds.push({ ours: await costOf(() => both(prober, names)), peer: mediainfoBatch(names) });
    }
    return (['cpu', 'wall'] as const).map((what) => {
      const of = (side: 'ours' | 'peer') =>
        perClip(
          rounds.map((round) => round[side]),
          what,
          names.length,
        );
      const [value, peer] = [of('ours'), of('peer')];
      return {
        name: `full facts, both tiers, ${what === 'cpu' ? 'CPU' : 'wall time'} per clip`,
        value,
        unit: 'ms',
        peer: { name: 'mediainfo, all files in one process', value: peer },
        goal: what === 'cpu' ? `<= ${MOST} x` : null,
        holds: what === 'cpu' ? value <= peer * MOST : null,
      };
    });
  } finally {
    await prober.close();
  }
}

async function both(prober: Prober, names: readonly string[]): Promise<void> {
  const outcomes = await Promise.all(
    names.map((name) => {
      judge(name);
      return prober.probe(name, toFileStat(name, lstatSync(name, { bigint: true })));
    }),
  );
  const failed = outcomes.filter(({ ok }) => !ok).length;
  if (failed > 0) throw new Error(`${failed} of ${names.length} clips could not be probed`);
}
