import type { DatabaseSync } from 'node:sqlite';
import type { KeptPlan } from '../../core/assess/kept-plans.ts';
import type { ShootPlan } from '../../core/assess/shoot-plan.ts';

export interface PlanQueries {
  /** In the order in which they were kept. */
  all(): KeptPlan[];
  put(kept: KeptPlan): void;
  /** How many there were of the project. */
  drop(project: string): number;
}

export function openPlans(database: DatabaseSync): PlanQueries {
  const all = database.prepare('SELECT at, json FROM ledger.kept_plan ORDER BY at, project');
  const put = database.prepare(
    'INSERT INTO ledger.kept_plan VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET json = excluded.json',
  );
  const drop = database.prepare('DELETE FROM ledger.kept_plan WHERE project = ?');
  return {
    all: () => all.all().map(({ at, json }) => ({ at: Number(at), plan: JSON.parse(String(json)) as ShootPlan })),
    put: ({ at, plan }) => void put.run(plan.project, Math.round(at), JSON.stringify(plan)),
    drop: (project) => Number(drop.run(project).changes),
  };
}
