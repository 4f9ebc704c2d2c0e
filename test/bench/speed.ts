import { messageOf } from '../../src/core/fault.ts';
import { type Figure, notMeasured } from './figure.ts';
import { measureLoad } from './speed/load.ts';
import { measureMeasured } from './speed/measured.ts';
import { measureModel } from './speed/model.ts';
import { measureMulticam } from './speed/multicam.ts';
import { measureOverlap } from './speed/overlap.ts';
import { measureRealMulticam } from './speed/real-multicam.ts';

const measures: Readonly<Record<string, () => Promise<Figure[]>>> = {
  multicam: measureMulticam,
  encodes: measureRealMulticam,
  overlap: measureOverlap,
  model: measureModel,
  load: measureLoad,
  measured: measureMeasured,
};

export const speedFigures = Object.keys(measures);

/** All figures of the room, or one of them; writes some GB below the temporary folder, and removes them. What cannot be measured costs its own figures alone. */
export async function benchSpeed(only: string | null): Promise<Figure[]> {
  const figures: Figure[] = [];
  for (const [name, measure] of Object.entries(measures)) {
    if (only !== null && only !== name) continue;
    console.error(`measuring: ${name}`);
    figures.push(...(await measure().catch((error: unknown) => [notMeasured(name, messageOf(error))])));
  }
  return figures;
}
