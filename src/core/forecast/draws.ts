/** Random figures, handed in; the same seed gives the same row of them. */
export interface Draws {
  /** Uniform on [0, 1). */
  uniform(): number;
  /** Of mean 0 and deviation 1. */
  normal(): number;
  /** Gamma of this shape and scale 1. */
  gamma(shape: number): number;
}

/** Begins the row anew. `seed`: 0..1. */
export type DrawsOf = (seed: number) => Draws;

/** Beta, by two Gammas (Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions 2, 25.2). */
export function drawBeta(draws: Draws, { a, b }: { a: number; b: number }): number {
  const one = draws.gamma(a);
  return one / (one + draws.gamma(b));
}
