/** What is still to come by the shoot plans of a volume, and how well such plans were kept. */
export interface PlanModel {
  /** Bytes that each of the next days of 24 hours is to bring; of a shoot that is under way what is not yet there. */
  days: ReadonlyMap<number, number>;
  /** Actual over planned bytes of planned days that are past and were kept. */
  ratios: readonly number[];
  /** Planned days that are past: on so many footage came, on so many none did. */
  kept: number;
  missed: number;
}

/** How far what comes on a planned day lies from the plan, in the logarithm (own simulation). */
const DAY_SD = 0.4;
/** The same for all days of a plan together, before any was seen. */
const RATIO_SD = 0.4;

/** Logarithm of actual over planned: mean and deviation of a normal distribution, by its conjugate prior (Gelman et al., 2.5). */
export function ratioOf({ ratios }: PlanModel): { mean: number; sd: number } {
  const weight = 1 / RATIO_SD ** 2;
  const each = 1 / DAY_SD ** 2;
  const sum = ratios.reduce((total, ratio) => total + Math.log(ratio), 0);
  const all = weight + ratios.length * each;
  return { mean: (sum * each) / all, sd: Math.sqrt(1 / all) };
}

/** Chance that a planned day is kept: Beta. */
export function keptOf({ kept, missed }: PlanModel): { a: number; b: number } {
  return { a: 7 + kept, b: 0.5 + missed };
}

export const PLANNED_DAY_SD = DAY_SD;
