import type { ArrayLevel } from './array-level.ts';

/** What can end the data of a volume. Rates are per drive. */
export interface Wear {
  /** Share of such drives that fail within a year, 0..1. */
  failsInYear: number;
  /** Hours until a failed member is replaced and filled again. */
  repairHours: number;
  /** Chance in a year of a loss that no redundancy prevents: deletion, theft, fire, the controller. */
  otherInYear: number;
}

const HOURS_A_YEAR = 8766;

/**
 * Losses of a whole array per hour while its members wear out by themselves. Markov chains with failure rate l and repair rate m for
 * each member: Chen, Lee, Gibson, Katz, Patterson, "RAID: High-Performance, Reliable Secondary Storage", ACM Computing Surveys 26(2),
 * 1994, section 3.4, and Patterson, Gibson, Katz, SIGMOD 1988; exact for one failure at a time, approximate for two. Members fail
 * independently here: in truth those of one purchase and one box do not, so the truth is worse.
 */
export function lossesPerHour(level: ArrayLevel, members: number, { failsInYear, repairHours }: Wear): number {
  const l = -Math.log(1 - failsInYear) / HOURS_A_YEAR;
  const m = 1 / repairHours;
  const n = members;
  switch (level) {
    case 'single':
      return l;
    case '0':
      return n * l;
    case '1':
      return pair(l, m);
    case '10':
      return (n / 2) * pair(l, m);
    case '4':
    case '5':
      return (n * (n - 1) * l * l) / ((2 * n - 1) * l + m);
    case '6':
      return (n * (n - 1) * (n - 2) * l ** 3) / (m * m);
  }
}

function pair(l: number, m: number): number {
  return (2 * l * l) / (3 * l + m);
}

/** Chance of losing the volume within so many hours, whatever the cause. */
export function lossChance(level: ArrayLevel, members: number, wear: Wear, hours: number): number {
  const other = -Math.log(1 - wear.otherInYear) / HOURS_A_YEAR;
  return 1 - Math.exp(-(lossesPerHour(level, members, wear) + other) * hours);
}

/** From one nightly backup to the next. */
export const NIGHT_HOURS = 24;
export const YEAR_HOURS = HOURS_A_YEAR;
