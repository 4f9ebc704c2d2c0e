import type { Assessment, DifferingTake, ProjectAssessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, formatCount, listWords } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import type { HoldReason, Rule, RuleResult } from './rule.ts';

/**
 * A take lies in a project twice, by its name, timecode and length, and the two are not the same. With one size and another content one
 * may be damaged, which is a warning; with another size they may be two versions.
 */
export const takeDiffers: Rule = {
  kind: 'take-differs',
  immediate: false,
  evaluate({ volumes, projects }: Assessment): RuleResult {
    const away = new Set(volumes.filter(({ state }) => state !== 'live').map(({ name }) => name));
    const findings = projects.filter(({ sum }) => !away.has(sum.volume)).flatMap(findingOf);
    const isAway = (subject: string) => [...away].some((name) => subject.startsWith(`${name}/`));
    return { findings, holds: (subject): HoldReason | null => (isAway(subject) ? 'root-not-live' : null) };
  },
};

function findingOf({ sum: { volume, area, project }, differing }: ProjectAssessment): Finding[] {
  const damaged = differing.filter(({ by }) => by === 'content');
  const first = damaged[0] ?? differing[0];
  if (first === undefined || project === null || area !== 'project') return [];
  const bytes = differing.flatMap(({ places }) => places).reduce((sum, place) => sum + place.bytes, 0);
  const many = differing.length === 1 ? '1 take lies' : `${formatCount(differing.length, 'take')} lie`;
  const which = differing.length === 1 ? takeWords(first) : `first ${takeWords(first)}`;
  return [
    {
      kind: 'take-differs',
      subject: `${volume}/${project}`,
      severity: damaged.length > 0 ? 'warning' : 'notice',
      message: `${many} twice in ${display(project)} on ${display(volume)}, by name, timecode and length, and the two are not the same: ${which}. Keep both, and the cards, until you know which is right.`,
      figures: { takes: differing.length, otherContent: damaged.length, bytes },
      remedies: [
        {
          action: 'Play both, and compare each with its card or its list of checksums',
          effect: `${formatBytes(bytes)} are concerned; neither counts as a copy of the other`,
        },
      ],
    },
  ];
}

function takeWords({ name, places, by }: DifferingTake): string {
  const each = places.map(
    ({ path, bytes }) => `${display(path)}${by === 'size' ? ` (${formatBytes(bytes)}, ${bytes} bytes)` : ''}`,
  );
  const how = by === 'size' ? '' : `, of ${formatBytes(places[0]?.bytes ?? 0)} each, with different content`;
  return `${display(name)} as ${listWords(each)}${how}`;
}
