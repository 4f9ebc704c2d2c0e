import { messageOf } from '../../src/core/fault.ts';
import { type Figure, notMeasured } from './figure.ts';
import { measureBurst } from './intake/burst.ts';
import { measureEarly } from './intake/early.ts';
import { measureFrames } from './intake/frames.ts';
import { type Ground, openGround } from './intake/ground.ts';
import { measureGrowing } from './intake/growing.ts';
import { measureIdle } from './intake/idle.ts';
import { measureMemory } from './intake/memory.ts';
import { measureReady } from './intake/ready.ts';
import { measureRestart } from './intake/restart.ts';
import { measureSettle } from './intake/settle.ts';
import { measureWatches } from './intake/watches.ts';

const measures: Readonly<Record<string, (ground: Ground) => Promise<Figure[]>>> = {
  ready: measureReady,
  memory: measureMemory,
  watches: measureWatches,
  burst: measureBurst,
  settle: measureSettle,
  early: measureEarly,
  frames: measureFrames,
  growing: measureGrowing,
  idle: measureIdle,
  restart: measureRestart,
};

export const intakeFigures = Object.keys(measures);

/**
 * All figures of the room, or one of them. About half an hour, and a million small files below the temporary folder, which
 * are removed again. What cannot be measured costs its own figures alone.
 */
export async function benchIntake(only: string | null): Promise<Figure[]> {
  const ground = openGround();
  const onSignal = (): void => void ground.clear().finally(() => process.exit(1));
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
    await ground.clear();
  }
}
