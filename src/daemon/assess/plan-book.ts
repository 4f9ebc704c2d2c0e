import { type KeptPlan, type KnownPlan, knownPlans } from '../../core/assess/kept-plans.ts';
import type { ShootPlan } from '../../core/assess/shoot-plan.ts';
import type { Clock } from '../../core/ports.ts';
import type { LedgerPort } from '../../core/store-ports.ts';

/** The shoot plans of the configuration, and those that were kept by command. */
export interface PlanBook {
  /** Before anything is planned with. */
  load(): Promise<void>;
  all(): readonly KnownPlan[];
  /** Durable when it resolves. */
  keep(plan: ShootPlan): Promise<void>;
  /** Forgets what was kept for a project; how many plans that were. Those of the configuration stay. */
  drop(project: string): Promise<number>;
}

export function createPlanBook(
  configured: readonly ShootPlan[],
  ledger: Pick<LedgerPort, 'plans' | 'putPlan' | 'dropPlans'>,
  clock: Pick<Clock, 'now'>,
): PlanBook {
  let kept: readonly KeptPlan[] = [];
  return {
    async load() {
      kept = await ledger.plans();
    },
    all: () => knownPlans(configured, kept),
    async keep(plan) {
      await ledger.putPlan({ at: clock.now(), plan });
      kept = await ledger.plans();
    },
    async drop(project) {
      const dropped = await ledger.dropPlans(project);
      kept = await ledger.plans();
      return dropped;
    },
  };
}
