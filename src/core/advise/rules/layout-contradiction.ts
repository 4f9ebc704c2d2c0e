import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { layoutContradiction } from '../../assess/detected-layout.ts';
import { display } from '../../present/escape.ts';
import type { Finding } from '../advisory.ts';
import { perVolume, type Rule, type RuleResult } from './rule.ts';

/** The configuration says something else of the volume's layout than the system shows. */
export const layoutContradicted: Rule = {
  kind: 'layout-contradiction',
  immediate: true,
  evaluate: (assessment: Assessment): RuleResult => perVolume(assessment, judge),
};

function judge(volume: VolumeAssessment): Finding | null {
  const { declaredLayout, detected, layout } = volume;
  const words = layoutContradiction(declaredLayout, detected);
  if (words === null) return null;
  const counts =
    layout?.basis === 'detected' ? 'What is seen counts.' : 'What is declared counts, for what is seen is not enough.';
  return {
    kind: 'layout-contradiction',
    subject: volume.name,
    severity: 'warning',
    message: `${display(volume.name)}: ${words}. ${counts} What it can give and survive may be told wrongly.`,
    figures: {
      declared:
        declaredLayout === null ? null : `${declaredLayout.level} of ${declaredLayout.members} ${declaredLayout.drive}`,
      seen: detected === null ? null : `${detected.level} of ${detected.members} ${detected.drive}`,
    },
    remedies: [
      {
        action: 'Correct or remove "layout" in the configuration',
        effect: 'speed and risk are then reckoned from what is there',
      },
    ],
  };
}
