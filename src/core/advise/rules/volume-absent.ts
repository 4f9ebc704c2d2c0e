import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, formatCount } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import type { Rule, RuleResult } from './rule.ts';

/** A working volume is not there, or does not answer: nothing is checked on it, and nothing arrives. */
export const volumeAbsent: Rule = {
  kind: 'volume-absent',
  immediate: false,
  evaluate(assessment: Assessment): RuleResult {
    const away = assessment.volumes.filter(({ state }) => state === 'absent' || state === 'hung');
    const findings = away.map((volume) => findingOf(volume, assessment));
    const starting = new Set(assessment.volumes.filter(({ state }) => state === 'starting').map(({ name }) => name));
    return { findings, holds: (subject) => (starting.has(subject) ? 'root-not-live' : null) };
  },
};

const AWAY_WORDS: Partial<Record<VolumeAssessment['state'], string>> = {
  absent: 'It is not there now.',
  hung: 'It does not answer.',
};

function findingOf(volume: VolumeAssessment, { projects }: Assessment): Finding {
  const mine = projects.filter(({ sum }) => sum.volume === volume.name).map(({ sum }) => sum);
  const knownBytes = mine.reduce((total, { bytes }) => total + bytes, 0);
  const knownClips = mine.reduce((total, { clips }) => total + clips, 0);
  const why = volume.stateDetail === null ? '' : ` (${display(volume.stateDetail)})`;
  return {
    kind: 'volume-absent',
    subject: volume.name,
    severity: 'warning',
    message: `${display(volume.name)} at ${display(volume.path)}${why}: ${AWAY_WORDS[volume.state] ?? ''} What was known of it is kept, not checked.`,
    figures: { state: volume.state, knownBytes, knownClips },
    remedies: [
      {
        action:
          volume.state === 'hung'
            ? 'Check cable, network and server'
            : `Connect it, and mount it at ${display(volume.path)}`,
        effect: `it is found within seconds; until then ${formatCount(knownClips, 'clip')} of footage (${formatBytes(knownBytes)} in all) are as last seen`,
      },
    ],
  };
}
