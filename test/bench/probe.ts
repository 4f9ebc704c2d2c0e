import { messageOf } from '../../src/core/fault.ts';
import { type Figure, notMeasured } from './figure.ts';
import { measureConcurrent } from './probe/concurrent.ts';
import { measureFull } from './probe/full.ts';
import { type Ground, openGround } from './probe/ground.ts';
import { measureHeadline } from './probe/headline.ts';
import { measureLoop } from './probe/loop.ts';
import { measureMemory } from './probe/memory.ts';
import { measureReads } from './probe/reads.ts';

const measures: Readonly<Record<string, (ground: Ground) => Promise<Figure[]>>> = {
  headline: measureHeadline,
  reads: measureReads,
  full: measureFull,
  loop: measureLoop,
  memory: measureMemory,
  concurrent: measureConcurrent,
};

export const probeFigures = Object.keys(measures);

/**
 * All figures of the room, or one of them. Some minutes, and some gigabytes of holes and half a gigabyte of content below
 * the temporary folder, which are removed again. What cannot be measured costs its own figures alone.
 */
export async function benchProbe(only: string | null): Promise<Figure[]> {
  const ground = openGround();
  const onSignal = (): void => {
    ground.clear();
    process.exit(1);
  };
  process.once('SIGINT', onSignal).once('SIGTERM', onSignal);
  try {
    const figures: Figure[] = [];
    for (const [name, measure] of Object.entries(measures)) {
      if (only !== null && only !== name) continue;
      console.error(`measuring: ${name}`);
      figures.push(...(await measure(ground).catch((error: unknown) => [notMeasured(name, messageOf(error))])));
    }
    return figures;
  } finally {
    process.off('SIGINT', onSignal).off('SIGTERM', onSignal);
    ground.clear();
  }
}
