import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatRate } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { speedRemedies } from '../speed-remedy.ts';
import { basisWords, beyond } from '../speed-words.ts';
import { judgeGroups } from './group-overrun.ts';
import type { HoldReason, Rule, RuleResult, Thresholds } from './rule.ts';

/**
 * What is to be played needs more than the volume's budget: a single clip (the subject is the volume), or the angles of a project
 * together (the subject is the project). Without a budget nothing is claimed.
 */
export const speedOverrun: Rule = {
  kind: 'speed-overrun',
  immediate: false,
  evaluate(assessment: Assessment, thresholds: Thresholds): RuleResult {
    const findings: Finding[] = [];
    const held = new Map<string, HoldReason>();
    const note = (subject: string, outcome: Finding | HoldReason | null) => {
      if (typeof outcome === 'string') held.set(subject, outcome);
      else if (outcome !== null) findings.push(outcome);
    };
    for (const volume of assessment.volumes.filter(({ state }) => state === 'live')) {
      note(volume.name, judgeClip(volume, assessment, thresholds));
      for (const [subject, outcome] of judgeGroups(volume, assessment, thresholds)) note(subject, outcome);
    }
    const away = assessment.volumes.filter(({ state }) => state !== 'live').map(({ name }) => name);
    const isAway = (subject: string) => away.some((name) => subject === name || subject.startsWith(`${name}/`));
    return { findings, holds: (subject) => (isAway(subject) ? 'root-not-live' : (held.get(subject) ?? null)) };
  },
};

/** The heaviest of the newest clips, where no group is heavier. */
function judgeClip(
  volume: VolumeAssessment,
  assessment: Assessment,
  thresholds: Thresholds,
): Finding | HoldReason | null {
  const { demandBps, demandParts, readBudgetBps, streams } = volume.speed;
  if (demandBps === null || demandParts === null || readBudgetBps === null || streams !== 1) return null;
  // What else goes on there ends again: a clip alone is judged without it.
  const need = demandBps - demandParts.ambientBps;
  if (need <= readBudgetBps * thresholds.speedRaise) {
    return need >= readBudgetBps * thresholds.speedClear ? 'between-thresholds' : null;
  }
  const { anglesBps, spreadBps, transitionBps } = demandParts;
  const playback = { streams: 1, meanBps: anglesBps, spreadBps, largestBps: transitionBps };
  const what = { playback, withAmbient: false, group: null, formats: [] };
  return {
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
}
