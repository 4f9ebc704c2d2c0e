import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, formatCount, formatShare } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { perVolume, type Rule, type RuleResult } from './rule.ts';

/** An array misses members, or is being put right: what it survives is less than it seems. Told at once. */
export const arrayDegraded: Rule = {
  kind: 'array-degraded',
  immediate: true,
  evaluate: (assessment: Assessment): RuleResult => perVolume(assessment, judge),
};

function judge(volume: VolumeAssessment): Finding | null {
  const { detected } = volume;
  if (detected === null || detected.health.state === 'whole') return null;
  const { missing, action, done } = detected.health;
  const how = done === null ? '' : `, ${formatShare(done)} of it done`;
  const what =
    missing > 0
      ? `${formatCount(missing, 'member')} of ${detected.members} ${missing === 1 ? 'is' : 'are'} missing or failed${action === null ? '' : ` (${action}${how})`}`
      : `it is being put right (${action}${how})`;
  return {
    kind: 'array-degraded',
    subject: volume.name,
    severity: 'critical',
    message: `${display(volume.name)}: its array at level ${detected.level ?? 'unknown'} is not whole: ${what}. Until it is, one more failed member may lose everything on it, and reading is slower.`,
    figures: { level: detected.level, members: detected.members, missing, action, done },
    remedies: remediesOf(volume, missing),
  };
}

function remediesOf({ safety }: VolumeAssessment, missing: number): Remedy[] {
  const exposed = safety === null ? null : safety.exposedBytes;
  return [
    {
      action: 'Copy what has no verified copy to another volume now, and keep the cards',
      effect:
        exposed === null
          ? 'what has none is not known: count everything'
          : `${formatBytes(exposed)} would be lost with the array`,
    },
    ...(missing > 0
      ? [{ action: 'Replace the missing member', effect: 'then the array can be put right' }]
      : [{ action: 'Leave heavy work for later', effect: 'the array is whole the sooner' }]),
  ];
}
