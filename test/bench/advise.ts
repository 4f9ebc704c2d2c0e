import { messageOf } from '../../src/core/fault.ts';
import { measureFlapping } from './advise/flapping.ts';
import { measureYears } from './advise/years.ts';
import { type Figure, notMeasured } from './figure.ts';

const measures: Readonly<Record<string, () => Figure[]>> = { years: measureYears, flapping: measureFlapping };

export const adviseFigures = Object.keys(measures);

/** All figures of the room, or one part of them. */
export async function benchAdvise(only: string | null): Promise<Figure[]> {
  const figures: Figure[] = [];
  for (const [name, measure] of Object.entries(measures)) {
    if (only !== null && only !== name) continue;
    console.error(`measuring: ${name}`);
    try {
      figures.push(...measure());
    } catch (error) {
      figures.push(notMeasured(name, messageOf(error)));
    }
  }
  return figures;
}
