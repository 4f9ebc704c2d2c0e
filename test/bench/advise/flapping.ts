import { changesOf, naiveChanges } from '../../core/advise/noisy-advice.ts';
import { noisyDay } from '../../core/assess/noisy-day.ts';
import type { Figure } from '../figure.ts';

const SEEDS = Array.from({ length: 40 }, (_, index) => 1 + index);

/** Eight noisy hours with three spells that are too much: six changes are ideal. */
export function measureFlapping(): Figure[] {
  const days = SEEDS.map((seed) => noisyDay(seed).shares);
  const mean = (of: (shares: number[]) => number) => days.reduce((sum, day) => sum + of(day), 0) / days.length;
  const ours = mean((shares) => changesOf(shares).length);
  return [
    {
      ...{
        name: `announcements on a noisy day with three spells, mean of ${days.length}`,
        value: ours,
        unit: 'changes',
      },
      ...{ peer: { name: 'above the line at a look', value: mean(naiveChanges) }, goal: '6', holds: ours === 6 },
    },
  ];
}
