import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatRate } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { speedRemedies } from '../speed-remedy.ts';
import { basisWords, beyond } from '../speed-words.ts';
import { judgeGroups } from './group-overrun.ts';
import { type Outcome, type Rule, type RuleResult, resultOf, type Thresholds } from './rule.ts';

/**
 * What is to be played needs more than the volume's budget: a single clip (the subject is the volume), or the angles of a project
 * together (the subject is the project). Without a budget nothing is claimed.
 */
export const speedOverrun: Rule = {
  kind: 'speed-overrun',
  immediate: false,
  evaluate(assessment: Assessment, thresholds: Thresholds): RuleResult {
    const live = assessment.volumes.filter(({ state }) => state === 'live');
    const outcomes = live.flatMap((volume) => [
      [volume.name, judgeClip(volume, assessment, thresholds)] as const,
      ...judgeGroups(volume, assessment, thresholds),
    ]);
    const away = assessment.volumes.filter(({ state }) => state !== 'live').map(({ name }) => name);
    return resultOf(outcomes, (subject) => away.some((name) => subject === name || subject.startsWith(`${name}/`)));
  },
};

/** The heaviest of the newest clips, where no group is heavier. */
function judgeClip(volume: VolumeAssessment, assessment: Assessment, thresholds: Thresholds): Outcome {
  const { demandBps, demandParts, readBudgetBps, streams } = volume.speed;
  if (demandBps === null || demandParts === null || readBudgetBps === null || streams !== 1) return null;
  // What else goes on there ends again: a clip alone is judged without it.
  const need = demandBps - demandParts.ambientBps;
  if (need < readBudgetBps * thresholds.speedClear) return null;
  const { anglesBps, spreadBps, transitionBps } = demandParts;
  const playback = { streams: 1, meanBps: anglesBps, spreadBps, largestBps: transitionBps };
  const what = { playback, withAmbient: false, group: null, formats: [] };
  const finding: Finding = {
    kind: 'speed-overrun',
    subject: volume.name,
    severity: 'warning',
    message: `${display(volume.name)}: ${display(volume.speed.demandFrom ?? 'playing what was recorded last')} needs ${formatRate(need)}, ${beyond(need, readBudgetBps)}${basisWords(volume)}.${need > readBudgetBps ? ' Expect dropped frames.' : ''}`,
    figures: {
      demandBps: need,
      budgetBps: readBudgetBps,
      shortBps: need - readBudgetBps,
      angles: 1,
      project: null,
      demandFrom: volume.speed.demandFrom,
      basis: volume.speed.basis,
    },
    remedies: speedRemedies(what, volume, assessment.volumes),
  };
  return need > readBudgetBps * thresholds.speedRaise ? finding : { between: finding };
}
