import fc from 'fast-check';

/**
 * How hard the random tests try: 1 in `npm test`, 20 in `npm run long`. What finds rare faults (fuzzing of the readers,
 * settle and advice histories, kills) has its short form in every run, and the long one as a command of its own.
 */
export const effort = Number(process.env['HEADROOMD_EFFORT'] ?? 1);

/** So many runs of a property, times the effort. */
export function runs(usual: number): number {
  return usual * effort;
}

fc.configureGlobal({ numRuns: runs(100) });
