import { fileURLToPath } from 'node:url';
import { clearLeftovers, measureElsewhere } from '../rim/measure/measure-process.ts';
import type { Measured, MeasureOrder, MeasureProgress } from '../rim/measure/measuring.ts';

const entry = fileURLToPath(new URL('./compose-measure-child.ts', import.meta.url));

/** Measures as the person who calls, in a process that ends with this one. Rejects with `MeasureFailed`. */
export const measureVolume = (order: MeasureOrder, tell: (progress: MeasureProgress) => void): Promise<Measured> =>
  measureElsewhere(entry, order, tell);

/** Files that measurements noted in this state folder left behind are removed; their paths. */
export const clearMeasurements = (stateDir: string): string[] => clearLeftovers(stateDir);
