import { randomGamma, randomLcg, randomNormal } from 'd3-random';
import type { Draws } from '../../core/forecast/draws.ts';

/** Draws of d3-random over its linear congruential generator. */
export function seededDraws(seed: number): Draws {
  const uniform = randomLcg(seed);
  const gamma = randomGamma.source(uniform);
  const shapes = new Map<number, () => number>();
  return {
    uniform,
    normal: randomNormal.source(uniform)(),
    gamma(shape) {
      const known = shapes.get(shape) ?? gamma(shape);
      shapes.set(shape, known);
      return known();
    },
  };
}
