import { NOTHING_WATCHED, watchLoad } from '../../../src/core/assess/load-watch.ts';
import { noisyDay, STEP } from '../../core/assess/noisy-day.ts';
import type { Figure } from '../figure.ts';

const DAYS = 200;
const LINE = 0.75;

/** Noisy days of eight hours with three real spells each: how often it is told, and how often the bare value would be. */
export async function measureLoad(): Promise<Figure[]> {
  const told = { false: 0, missed: 0, changes: 0, raw: 0 };
  for (let seed = 1; seed <= DAYS; seed++) countDay(seed, told);
  const perDay = (count: number) => count / DAYS;
  return [
    {
      name: `false load advisories on ${DAYS} noisy days`,
      ...{ value: told.false, unit: '', peer: null, goal: '0', holds: told.false === 0 },
    },
    {
      name: `real spells missed, of ${3 * DAYS}`,
      ...{ value: told.missed, unit: '', peer: null, goal: '0', holds: told.missed === 0 },
    },
    {
      name: 'changes in eight hours (6 are ideal)',
      ...{
        value: perDay(told.changes),
        unit: '',
        peer: { name: 'the bare value at its line', value: perDay(told.raw) },
      },
      ...{ goal: null, holds: null },
    },
  ];
}

function countDay(seed: number, told: { false: number; missed: number; changes: number; raw: number }): void {
  const { shares, spells } = noisyDay(seed);
  let watch = NOTHING_WATCHED;
  const raised: number[] = [];
  for (const [index, share] of shares.entries()) {
    const next = watchLoad(watch, share, STEP);
    if (next.isHigh !== watch.isHigh) {
      told.changes += 1;
      if (next.isHigh) raised.push((index + 1) * STEP);
    }
    if (index > 0 && share > LINE !== (shares[index - 1] ?? 0) > LINE) told.raw += 1;
    watch = next;
  }
  const within = (at: number) => spells.find(({ from, to }) => at > from && at <= to + 60);
  told.false += raised.filter((at) => within(at) === undefined).length;
  told.missed += spells.filter((spell) => !raised.some((at) => within(at) === spell)).length;
}
