import { fileURLToPath } from 'node:url';
import { messageOf } from '../../src/core/fault.ts';
import { type Figure, notMeasured } from './figure.ts';
import { measureAdvisory } from './forecast/advisory.ts';
import { measureDates } from './forecast/dates.ts';
import { measureHistories } from './forecast/histories.ts';
import { measureTimeLeft } from './forecast/time-left.ts';

/** Growth of public repositories of large files, with where each is from. */
const TRACES = fileURLToPath(new URL('./forecast/growth-traces.json', import.meta.url));

const measures: Readonly<Record<string, (traces: string) => Figure[]>> = {
  histories: measureHistories,
  dates: measureDates,
  advisory: measureAdvisory,
  left: measureTimeLeft,
};

export const forecastFigures = Object.keys(measures);

/** All figures of the room, or one of them. `traces`: growth histories to test against in place of ours. */
export async function benchForecast(only: string | null, traces: string | null): Promise<Figure[]> {
  const figures: Figure[] = [];
  for (const [name, measure] of Object.entries(measures)) {
    if (only !== null && only !== name) continue;
    console.error(`measuring: ${name}`);
    try {
      figures.push(...measure(traces ?? TRACES));
    } catch (error) {
      figures.push(notMeasured(name, messageOf(error)));
    }
  }
  return figures;
}
