import type { Instant } from '../model.ts';
import type { ShootPlan } from './shoot-plan.ts';

/** A shoot plan that was kept by command, beside those of the configuration. */
export interface KeptPlan {
  at: Instant;
  plan: ShootPlan;
}

/** A plan and where it was said. `keptAt`: `null` for one of the configuration. */
export interface KnownPlan extends ShootPlan {
  keptAt: Instant | null;
}

/**
 * All plans. What is said later of a project counts for the days from its first to its last; days before and after stay as they were
 * said, so that a plan for spring does not lose the one for autumn.
 */
export function knownPlans(configured: readonly ShootPlan[], kept: readonly KeptPlan[]): KnownPlan[] {
  const inOrder = [...kept].sort((one, other) => one.at - other.at);
  let plans: KnownPlan[] = configured.map((plan) => ({ ...plan, keptAt: null }));
  for (const { at, plan } of inOrder) {
    plans = [...plans.flatMap((earlier) => without(earlier, plan)), { ...plan, keptAt: at }];
  }
  return plans;
}

function without(earlier: KnownPlan, later: ShootPlan): KnownPlan[] {
  if (earlier.project !== later.project) return [earlier];
  const days = earlier.days.filter((day) => !isWithin(day, later));
  return days.length === 0 ? [] : [{ ...earlier, days }];
}

function isWithin(day: string, { days }: ShootPlan): boolean {
  return day >= (days[0] ?? '') && day <= (days.at(-1) ?? '');
}
