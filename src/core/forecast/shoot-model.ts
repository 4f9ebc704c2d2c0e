import type { GrowthDays } from './growth.ts';

/*
 * How a volume is filled: days on which footage is ingested come in runs, with days of nothing between them; how much comes on such a
 * day is log-normal. What happened lately says more: a day counts half as much as one 40 days later.
 */

/** What is known of it, as the parameters of distributions that are drawn from. */
export interface ShootModel {
  /** Chance that a day of ingest is followed by another: Beta. */
  stays: { a: number; b: number };
  /** Rate, per day, at which days of nothing end: Gamma. */
  begins: { shape: number; rate: number };
  /** How much likelier than on any day it is on the day that comes in so many days, modulo 7. */
  weekday: number[];
  /** Logarithm of the bytes of such a day: normal of unknown mean and variance. */
  size: { mean: number; kappa: number; nu: number; variance: number };
  largestBytes: number;
  /** Days of ingest that were seen. */
  activeDays: number;
  /** Days that were seen at all. */
  days: number;
  isActive: boolean;
  /** What else came and went on each of the last days, bytes. */
  other: number[];
}

const HALF_LIFE_DAYS = 40;
/** A day on which less than this share of the volume came is no day of ingest. */
const ACTIVE_SHARE = 0.002;
/** Before anything is seen (own simulation): a day of ingest brings this share of the volume, within the spread, in the logarithm. */
const PRIOR_SHARE = 0.03;
const PRIOR_SD = 0.8;
const PRIOR_KAPPA = 1;
const PRIOR_NU = 4;
/** A day that brought more than this share of the volume, and so many times a middle one, is none of shooting. */
const MOVED_IN_SHARE = 0.4;
const MOVED_IN_TIMES = 5;
const OTHER_DAYS = 60;
const LARGEST_TIMES = 20;

/** `capacityBytes`: all that can be written to the volume. */
export function fitShoots({ ingest, other }: GrowthDays, capacityBytes: number): ShootModel {
  const active = activeDays(ingest, capacityBytes);
  const weights = ingest.map((_, day) => 2 ** (-day / HALF_LIFE_DAYS));
  return {
    ...runsOf(active, weights),
    ...sizesOf(ingest, active, weights, capacityBytes),
    activeDays: active.filter(Boolean).length,
    days: ingest.length,
    isActive: active[0] ?? false,
    other: other.slice(0, OTHER_DAYS),
  };
}

/** What is moved in at once, as when a volume takes the place of another, is no day of shooting: it would make giants of all others. */
function activeDays(ingest: readonly number[], capacityBytes: number): boolean[] {
  const busy = ingest.filter((bytes) => bytes > ACTIVE_SHARE * capacityBytes).sort((one, other) => one - other);
  const middle = busy[Math.floor((busy.length - 1) / 2)] ?? 0;
  const isMovedIn = (bytes: number) =>
    bytes > MOVED_IN_SHARE * capacityBytes && (busy.length < 3 || bytes > MOVED_IN_TIMES * middle);
  return ingest.map((bytes) => bytes > ACTIVE_SHARE * capacityBytes && !isMovedIn(bytes));
}

function runsOf(
  active: readonly boolean[],
  weights: readonly number[],
): Pick<ShootModel, 'stays' | 'begins' | 'weekday'> {
  const count = { stayed: 0, ended: 0, began: 0, idle: 0 };
  for (let day = 0; day + 1 < active.length; day++) {
    const weight = weights[day] ?? 0;
    if (active[day + 1]) count[active[day] ? 'stayed' : 'ended'] += weight;
    else count[active[day] ? 'began' : 'idle'] += weight;
  }
  return {
    stays: { a: 1.5 + count.stayed, b: 1.5 + count.ended },
    begins: { shape: 0.6 + count.began, rate: 4 + count.began + count.idle },
    weekday: weekdays(active, weights),
  };
}

/** Day `day` back is the weekday that comes again in 7 - (day mod 7) days. Pulled towards 1 as if four such days had been as any. */
function weekdays(active: readonly boolean[], weights: readonly number[]): number[] {
  const all = weights.reduce((sum, weight) => sum + weight, 0);
  const share = (weights.reduce((sum, weight, day) => sum + (active[day] ? weight : 0), 0) + 0.1) / (all + 1);
  return Array.from({ length: 7 }, (_, ahead) => {
    const same = weights.map((weight, day) => ((day + ahead) % 7 === 0 ? weight : 0));
    const days = same.reduce((sum, weight) => sum + weight, 0);
    const busy = same.reduce((sum, weight, day) => sum + (active[day] ? weight : 0), 0);
    return (busy + 4 * share) / (days + 4) / share;
  });
}

/** Normal-inverse-chi-squared conjugate prior (Gelman et al., Bayesian Data Analysis, 3.3), weighted. */
function sizesOf(
  ingest: readonly number[],
  active: readonly boolean[],
  weights: readonly number[],
  capacityBytes: number,
): Pick<ShootModel, 'size' | 'largestBytes'> {
  const seen = ingest.flatMap((bytes, day) =>
    active[day] ? [{ log: Math.log(bytes), weight: weights[day] ?? 0 }] : [],
  );
  const n = seen.reduce((sum, { weight }) => sum + weight, 0);
  const prior = Math.log(PRIOR_SHARE * capacityBytes);
  const mean = n === 0 ? prior : seen.reduce((sum, { log, weight }) => sum + weight * log, 0) / n;
  const squares = seen.reduce((sum, { log, weight }) => sum + weight * (log - mean) ** 2, 0);
  const kappa = PRIOR_KAPPA + n;
  const nu = PRIOR_NU + n;
  const between = ((PRIOR_KAPPA * n) / kappa) * (mean - prior) ** 2;
  const variance = (PRIOR_NU * PRIOR_SD ** 2 + squares + between) / nu;
  const posterior = (PRIOR_KAPPA * prior + n * mean) / kappa;
  return { size: { mean: posterior, kappa, nu, variance }, largestBytes: LARGEST_TIMES * Math.exp(posterior) };
}
