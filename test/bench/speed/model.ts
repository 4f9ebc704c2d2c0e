import { budgetChecks } from '../../core/assess/budget-checks.ts';
import type { Figure } from '../figure.ts';

/** The budget model beside what the trade and the handbooks say. */
export async function measureModel(): Promise<Figure[]> {
  const checks = budgetChecks();
  const missed = checks.filter(({ value, least, most }) => value < least || value > most);
  const names = missed.map(({ name, value, source }) => `${name}: ${value} (${source})`).join('; ');
  return [
    {
      name: `check values that the budget model misses, of ${checks.length}${names === '' ? '' : ` (${names})`}`,
      ...{ value: missed.length, unit: '', peer: null, goal: '0', holds: missed.length === 0 },
    },
  ];
}
