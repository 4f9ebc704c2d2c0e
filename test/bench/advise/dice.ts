import { generator } from '../../core/assess/noisy-day.ts';

/** Chance, by a seed: the same house lives through the same years each time. */
export interface Dice {
  /** 0 to 1. */
  uniform(): number;
  normal(): number;
  between(low: number, high: number): number;
  happens(chance: number): boolean;
  /** Log-normal with this median; `spread` is the deviation of the logarithm. */
  about(median: number, spread: number): number;
}

export function dice(seed: number): Dice {
  const uniform = generator(seed);
  const normal = () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  return {
    uniform,
    normal,
    between: (low, high) => low + (high - low) * uniform(),
    happens: (chance) => uniform() < chance,
    about: (median, spread) => median * Math.exp(spread * normal()),
  };
}
