import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { VOLUME_STATE_WORDS, VOLUME_STATES } from '../../present/wording.ts';
import type { Finding } from '../advisory.ts';
import type { Rule, RuleResult } from './rule.ts';

/** A working volume is not there, or does not answer: nothing is checked on it, and nothing arrives. */
export const volumeAbsent: Rule = {
  kind: 'volume-absent',
  immediate: false,
  evaluate(assessment: Assessment): RuleResult {
    const findings = assessment.volumes.filter(({ state }) => state === 'absent' || state === 'hung').map(findingOf);
    const starting = new Set(assessment.volumes.filter(({ state }) => state === 'starting').map(({ name }) => name));
    return { findings, holds: (subject) => (starting.has(subject) ? 'root-not-live' : null) };
  },
};

function findingOf(volume: VolumeAssessment): Finding {
  const why = volume.stateDetail === null ? '' : ` (${display(volume.stateDetail)})`;
  return {
    kind: 'volume-absent',
    subject: volume.name,
    severity: 'warning',
    message: `${display(volume.name)} at ${display(volume.path)}${why}: ${VOLUME_STATE_WORDS[VOLUME_STATES[volume.state]] ?? ''}`,
    figures: { state: volume.state },
    remedies: [],
  };
}
