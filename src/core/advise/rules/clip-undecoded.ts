import type { Assessment, ProjectAssessment, UndecodedClip } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { namesAndMore } from '../../present/lacking-words.ts';
import { formatBytes, formatCount, isoWithOffset } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import type { HoldReason, Rule, RuleResult } from './rule.ts';

/**
 * No reader could read clips of picture or sound: damaged, or of a format that nobody here knows. Which of the two only a person
 * can tell, so it is a notice, one for each project.
 */
export const clipUndecoded: Rule = {
  kind: 'clip-undecoded',
  immediate: false,
  evaluate({ volumes, projects, zone }: Assessment): RuleResult {
    const away = new Set(volumes.filter(({ state }) => state !== 'live').map(({ name }) => name));
    const findings = projects
      .filter(({ sum, undecoded }) => !away.has(sum.volume) && undecoded.length > 0)
      .map((project) => findingOf(project, zone));
    const isAway = (subject: string) => [...away].some((name) => subject.startsWith(`${name}/`));
    return { findings, holds: (subject): HoldReason | null => (isAway(subject) ? 'root-not-live' : null) };
  },
};

function findingOf({ sum: { volume, area, project }, undecoded }: ProjectAssessment, zone: string): Finding {
  const where = project === null ? 'outside projects' : `of ${display(project)}`;
  const bytes = undecoded.reduce((sum, clip) => sum + clip.bytes, 0);
  const newest = undecoded.reduce((latest, { readyAt }) => Math.max(latest, readyAt), 0);
  const day = isoWithOffset(newest, zone).slice(0, 10);
  const clips = `${formatCount(undecoded.length, 'clip')} ${where} on ${display(volume)}`;
  return {
    kind: 'clip-undecoded',
    subject: `${volume}/${project ?? area}`,
    severity: 'notice',
    message: `${clips} cannot be read here (${formatBytes(bytes)}, the newest of ${day}): ${namesAndMore(undecoded.map(clipWords))}. Only their bytes are known, not how long they are and what playing them needs.`,
    figures: { clips: undecoded.length, bytes, newestAt: newest },
    remedies: [
      {
        action: 'Try whether they play. Copy one that does not again from its card, and keep the card',
        effect: `${formatBytes(bytes)} then count with length and speed; in a format that only your programs read nothing is wrong`,
      },
    ],
  };
}

/** Why is told of the first alone: mostly it is one reason for all. */
function clipWords({ name, troubles: [why] }: UndecodedClip, index: number): string {
  return index > 0 || why === undefined ? display(name) : `${display(name)} (${display(why)})`;
}
