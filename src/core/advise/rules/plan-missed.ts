import type { Assessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import type { Finding } from '../advisory.ts';
import type { Rule, RuleResult } from './rule.ts';

/** A shoot that was planned does not seem to happen: its owner is asked, and its days do not count any longer. */
export const planMissed: Rule = {
  kind: 'plan-missed',
  immediate: true,
  evaluate({ volumes }: Assessment): RuleResult {
    const findings = volumes
      .filter(({ state }) => state === 'live')
      .flatMap(({ name, forecast }) => (forecast?.notHappening ?? []).map((project) => findingOf(name, project)));
    const unsure = volumes
      .filter(({ state, forecast }) => state !== 'live' || forecast === null)
      .map(({ name }) => name);
    return {
      findings,
      holds: (subject) => (unsure.some((name) => subject.startsWith(`${name}/`)) ? 'figure-unknown' : null),
    };
  },
};

function findingOf(volume: string, project: string): Finding {
  return {
    kind: 'plan-missed',
    subject: `${volume}/${project}`,
    severity: 'notice',
    message: `${display(project)} was to be shot on the last two days by its plan, and nothing came to ${display(volume)}. Its coming days do not count for the forecast until footage comes. Is it off, or on other days?`,
    figures: { project, volume },
    remedies: [
      {
        action: 'Change the days of its [[plan]] in the configuration, or take it out',
        effect: 'the forecast counts it again, or not',
      },
    ],
  };
}
