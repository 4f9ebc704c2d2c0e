/*
 * What a volume is believed to give, as a log-normal distribution that evidence narrows and time widens. Bayes' rule for a normal
 * mean of known variance, on the logarithm (e.g. Gelman et al., Bayesian Data Analysis, 2.5).
 */

/** Logarithm of bytes per second: mean and standard deviation. */
export interface Belief {
  mean: number;
  sd: number;
}

/** What a figure rests on. */
export type SpeedBasis =
  | 'declared' // its owner said so
  | 'layout' // expected of such drives, put together in this way
  | 'measured' // by headroomd
  | 'observed'; // seen at work

/** How a rate came to be known. */
export type RateSource =
  | 'declared'
  | 'layout'
  | 'benchmark' // on an idle volume
  | 'saturated' // the most that went on while the drives were busy without a pause
  | 'reached'; // it went on, and there may have been more

/** One piece of evidence on how fast a volume reads, or writes; `at` in milliseconds since 1970, `null`: holds always. */
export interface RateEvidence {
  bps: number;
  source: RateSource;
  at: number | null;
  /** Spread that it has besides that of its source, in the logarithm. */
  sd?: number;
}

/** Spread of each kind of evidence around the truth, in the logarithm (own simulation; of a declared speed: judgement). */
const SD: Readonly<Record<Exclude<RateSource, 'reached'>, number>> = {
  declared: 0.2,
  layout: 0.35,
  benchmark: 0.08,
  saturated: 0.18,
};

/** A volume changes by so much in a day (it fills, it ages), in the logarithm; in d days by sqrt(d) times as much. */
const FORGOTTEN_A_DAY = 0.02;

const DAY_MS = 86_400_000;

/** Normal quantile of 90 % (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1: 1.282). */
const Z90 = 1.282;

/** A truth that lies in four cases of five between two rates, as one rate with its spread. */
export function between(low: number, high: number): { bps: number; sd: number } {
  return { bps: Math.sqrt(low * high), sd: Math.log(high / low) / (2 * Z90) };
}

/** Four in five volumes of which this is believed give between `low` and `high`, bytes per second; `likely` is the median. */
export interface BelievedRate {
  likely: number;
  low: number;
  high: number;
  basis: SpeedBasis;
}

/**
 * What all evidence together says at `now`. A declared speed replaces what the layout lets expect, and a measured one replaces what
 * was declared; observed rates move either, the more the more there are. `null` without any.
 */
export function believedRate(evidence: readonly RateEvidence[], now: number): BelievedRate | null {
  const counted = withoutReplaced(evidence);
  const belief = beliefOf(counted, now);
  if (belief === null) return null;
  const at90 = (deviations: number) => Math.round(Math.exp(belief.mean + deviations * belief.sd));
  return { likely: at90(0), low: at90(-Z90), high: at90(Z90), basis: basisOf(counted, belief, now) };
}

function beliefOf(evidence: readonly RateEvidence[], now: number): Belief | null {
  let belief: Belief | null = null;
  let at: number | null = null;
  for (const one of [...evidence].sort((one, other) => (one.at ?? 0) - (other.at ?? 0))) {
    if (belief !== null && one.at !== null) belief = older(belief, at, one.at);
    belief = learn(belief, one);
    at = one.at ?? at;
  }
  return belief === null ? null : older(belief, at, now);
}

function withoutReplaced(evidence: readonly RateEvidence[]): RateEvidence[] {
  const has = (wanted: RateSource) => evidence.some(({ source }) => source === wanted);
  return evidence.filter(({ source }) => {
    if (source === 'declared') return !has('benchmark');
    return source !== 'layout' || !has('declared') || has('benchmark');
  });
}

/** What moved the belief by less than this, in the logarithm, is not what it rests on. */
const HARDLY_MOVED = 0.05;

/**
 * The strongest there is: what was measured says more than what was seen at work, and this more than what was said. What was merely
 * reached counts where it was more than anybody expected.
 */
function basisOf(evidence: readonly RateEvidence[], belief: Belief, now: number): SpeedBasis {
  const has = (wanted: RateSource) => evidence.some(({ source }) => source === wanted);
  if (has('benchmark')) return 'measured';
  if (has('saturated')) return 'observed';
  const others = evidence.filter(({ source }) => source !== 'reached');
  const without = beliefOf(others, now);
  if (without === null || belief.mean - without.mean > HARDLY_MOVED) return 'observed';
  return has('declared') ? 'declared' : 'layout';
}

function older({ mean, sd }: Belief, from: number | null, to: number): Belief {
  const days = from === null ? 0 : Math.max(0, to - from) / DAY_MS;
  return { mean, sd: Math.sqrt(sd * sd + days * FORGOTTEN_A_DAY * FORGOTTEN_A_DAY) };
}

function learn(belief: Belief | null, { bps, source, sd: own = 0 }: RateEvidence): Belief | null {
  const seen = Math.log(bps);
  if (source === 'reached') return belief === null ? null : atLeast(belief, seen);
  const sd = Math.hypot(SD[source], own);
  if (belief === null) return { mean: seen, sd };
  const weight = 1 / (belief.sd * belief.sd);
  const added = 1 / (sd * sd);
  return { mean: (belief.mean * weight + seen * added) / (weight + added), sd: 1 / Math.sqrt(weight + added) };
}

/**
 * The belief given that the truth is not below `floor`: mean and deviation of the truncated normal distribution (Johnson, Kotz,
 * Balakrishnan, Continuous Univariate Distributions 1, 13.10.1), with h = phi(a) / (1 - Phi(a)), a = (floor - mean) / sd.
 */
function atLeast({ mean, sd }: Belief, floor: number): Belief {
  const a = (floor - mean) / sd;
  // Far below what is believed it says nothing; far above, the ratio below loses its digits.
  if (a < -4) return { mean, sd };
  if (a > 6) return { mean: floor + sd / a, sd: sd / a };
  const h = hazard(a);
  return { mean: mean + sd * h, sd: sd * Math.sqrt(Math.max(1e-6, 1 + a * h - h * h)) };
}

/** phi(a) / (1 - Phi(a)). */
function hazard(a: number): number {
  const density = Math.exp((-a * a) / 2) / Math.sqrt(2 * Math.PI);
  return density / (a < 0 ? 1 - upperTail(-a) : upperTail(a));
}

/** 1 - Phi(a) for a >= 0: Abramowitz and Stegun 26.2.17, |error| < 7.5e-8, which suffices up to about a = 4; beyond, 26.2.12. */
function upperTail(a: number): number {
  const density = Math.exp((-a * a) / 2) / Math.sqrt(2 * Math.PI);
  if (a > 4) return (density / a) * (1 - 1 / a ** 2 + 3 / a ** 4 - 15 / a ** 6);
  const t = 1 / (1 + 0.2316419 * a);
  const series = [0.31938153, -0.356563782, 1.781477937, -1.821255978, 1.330274429];
  return density * series.reduceRight((sum, factor) => (sum + factor) * t, 0);
}
