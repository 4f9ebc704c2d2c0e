import { messageOf } from '../../src/core/fault.ts';
import { frames, large, middle } from './backup/copying.ts';
import { type Figure, notMeasured } from './figure.ts';

const measures: Readonly<Record<string, () => Promise<Figure[]>>> = { large, middle, frames };

export const backupFigures = Object.keys(measures);

/** All figures of the room, or one of them. Some ten minutes; up to 45 GB below the temporary folder, which are removed again. */
export async function benchBackup(only: string | null): Promise<Figure[]> {
  const figures: Figure[] = [];
  for (const [name, measure] of Object.entries(measures)) {
    if (only !== null && only !== name) continue;
    console.error(`measuring: ${name}`);
    figures.push(...(await measure().catch((error: unknown) => [notMeasured(name, messageOf(error))])));
  }
  return figures;
}
