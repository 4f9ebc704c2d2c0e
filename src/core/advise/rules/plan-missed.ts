import type { Assessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatCount, isoWithOffset } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import type { Rule, RuleResult } from './rule.ts';

/** A shoot that was planned does not seem to happen: its owner is asked, and its days do not count any longer. */
export const planMissed: Rule = {
  kind: 'plan-missed',
  immediate: true,
  evaluate(assessment: Assessment): RuleResult {
    const { volumes } = assessment;
    const findings = volumes
      .filter(({ state }) => state === 'live')
      .flatMap(({ name, forecast }) =>
        (forecast?.notHappening ?? []).map((project) => findingOf(name, project, assessment)),
      );
    const unsure = volumes
      .filter(({ state, forecast }) => state !== 'live' || forecast === null)
      .map(({ name }) => name);
    return {
      findings,
      holds: (subject) => (unsure.some((name) => subject.startsWith(`${name}/`)) ? 'figure-unknown' : null),
    };
  },
};

function findingOf(volume: string, project: string, { plans, at, zone }: Assessment): Finding {
  const days = plans.find(({ plan, volume: on }) => on === volume && plan.project === project)?.plan.days ?? [];
  const ahead = days.filter((day) => day >= isoWithOffset(at, zone).slice(0, 10));
  const coming =
    ahead.length === 0
      ? 'Its coming days do'
      : `Its ${ahead.length === 1 ? 'last day' : `${ahead.length} coming days`} (from ${ahead[0]}) ${ahead.length === 1 ? 'does' : 'do'}`;

  return {
    kind: 'plan-missed',
    subject: `${volume}/${project}`,
    severity: 'notice',
    message: `${display(project)} was to be shot on the last two days by its plan, and nothing came to ${display(volume)}. ${coming} not count for the forecast until footage comes. Is it off, or on other days?`,
    figures: { project, volume, daysAhead: ahead.length },
    remedies: [
      {
        action: 'Change the days of its [[plan]] in the configuration, or take it out',
        effect: `the forecast then counts ${ahead.length === 0 ? 'what is left of it' : formatCount(ahead.length, 'day')} as you say`,
      },
    ],
  };
}
