import type { Assessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatAge, formatBytes } from '../../units.ts';
import type { Rule, RuleResult } from './rule.ts';

/** headroomd cannot keep what it learns: what it shows may be old, and what arrives now is not taken in. */
export const stateRefused: Rule = {
  kind: 'state-refused',
  immediate: true,
  evaluate({ stateTrouble, machine, at }: Assessment): RuleResult {
    if (stateTrouble === null) return { findings: [], holds: () => null };
    const message = `${display(stateTrouble.message)} Until then arrivals are not taken in, and figures may be old.`;
    const { since } = stateTrouble;
    const { stateRoom } = machine;
    const where = stateRoom === null ? 'the state folder' : display(stateRoom.path);
    const left = stateRoom === null ? '' : `; ${formatBytes(stateRoom.availableBytes)} are left to write there`;
    const remedy = {
      action: `Look at the drive of ${where}: room, rights, and whether it is well`,
      effect: `it is tried again by itself, for ${formatAge((at - since) / 1000)} now${left}`,
    };
    const figures = { since, availableBytes: stateRoom?.availableBytes ?? null };
    const finding = { kind: 'state-refused', subject: 'state', severity: 'critical', message } as const;
    return { findings: [{ ...finding, figures, remedies: [remedy] }], holds: () => null };
  },
};
