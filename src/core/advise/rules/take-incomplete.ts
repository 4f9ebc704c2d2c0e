import type { Assessment, LackingTake, ProjectAssessment } from '../../assess/assessment.ts';
import { lackWords } from '../../present/clip-words.ts';
import { display } from '../../present/escape.ts';
import { namesAndMore } from '../../present/lacking-words.ts';
import { formatCount } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import type { HoldReason, Rule, RuleResult } from './rule.ts';

/**
 * Chapters, parts or frames between others of their take are not here. Names and lists of the card alone tell of it: nobody
 * knows whether they were left out on purpose, so it is a notice, one for each project, and it waits while a copy may still
 * bring them.
 */
export const takeIncomplete: Rule = {
  kind: 'take-incomplete',
  immediate: false,
  evaluate({ volumes, projects }: Assessment): RuleResult {
    const away = new Set(volumes.filter(({ state }) => state !== 'live').map(({ name }) => name));
    const findings = projects.filter(({ sum }) => !away.has(sum.volume)).flatMap(findingOf);
    const isAway = (subject: string) => [...away].some((name) => subject.startsWith(`${name}/`));
    return { findings, holds: (subject): HoldReason | null => (isAway(subject) ? 'root-not-live' : null) };
  },
};

function findingOf({ sum: { volume, area, project }, lacking }: ProjectAssessment): Finding[] {
  if (lacking.length === 0 || area === 'trash') return [];
  const where = project === null ? 'outside projects' : `of ${display(project)}`;
  const takes = `${formatCount(lacking.length, 'take')} ${where} on ${display(volume)} ${lacking.length === 1 ? 'is' : 'are'}`;
  return [
    {
      kind: 'take-incomplete',
      subject: `${volume}/${project ?? area}`,
      severity: 'notice',
      message: `${takes} not complete: ${namesAndMore(lacking.map(takeWords))}.`,
      figures: { takes: lacking.length },
      remedies: [
        {
          action: 'Copy what is missing again from its card, and keep the card',
          effect: 'the take is then whole; if it was left out on purpose there is nothing to do',
        },
      ],
    },
  ];
}

function takeWords(take: LackingTake): string {
  return `${display(take.name)} (${display(lackWords(take).join(', '))})`;
}
