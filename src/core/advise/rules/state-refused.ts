import type { Assessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import type { Rule, RuleResult } from './rule.ts';

/** headroomd cannot keep what it learns: what it shows may be old, and what arrives now is not taken in. */
export const stateRefused: Rule = {
  kind: 'state-refused',
  immediate: true,
  evaluate({ stateTrouble }: Assessment): RuleResult {
    if (stateTrouble === null) return { findings: [], holds: () => null };
    const message = `${display(stateTrouble.message)} Until then arrivals are not taken in, and figures may be old.`;
    return {
      findings: [{ kind: 'state-refused', subject: 'state', severity: 'critical', message, figures: {}, remedies: [] }],
      holds: () => null,
    };
  },
};
