import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import type { AdvisoryKind, Finding } from '../advisory.ts';

/** What the rules compare with; a part of the thresholds in the settings. */
export interface Thresholds {
  /** Demand as a share of the budget at which it is told, and below which it is over. */
  speedRaise: number;
  speedClear: number;
  /** Seconds a condition must hold before it is raised, and be away before it is cleared. */
  raiseAfter: number;
  clearAfter: number;
}

/** Why a subject without a finding is left as it is, instead of being cleared. */
export type HoldReason = 'root-not-live' | 'figure-unknown' | 'between-thresholds' | 'judged-again';

export interface RuleResult {
  /** Conditions that hold now. */
  findings: Finding[];
  /** For a subject that has no finding: why nothing can be concluded; `null` when its condition is over. */
  holds: (subject: string) => HoldReason | null;
}

/** One thing to speak up about. Pure: the same assessment gives the same result; time is the engine's matter. */
export interface Rule {
  kind: AdvisoryKind;
  /** True when the condition has waited long enough before it got here. */
  immediate: boolean;
  evaluate(assessment: Assessment, thresholds: Thresholds): RuleResult;
}

/**
 * Judges every volume by itself, the volume's name being the subject. Figures of a root that is not live are old:
 * they neither raise nor clear anything.
 */
export function perVolume(
  assessment: Assessment,
  judge: (volume: VolumeAssessment) => Finding | HoldReason | null,
): RuleResult {
  const findings: Finding[] = [];
  const held = new Map<string, HoldReason>();
  for (const volume of assessment.volumes) {
    const outcome = volume.state === 'live' ? judge(volume) : 'root-not-live';
    if (typeof outcome === 'string') held.set(volume.name, outcome);
    else if (outcome !== null) findings.push(outcome);
  }
  return { findings, holds: (subject) => held.get(subject) ?? null };
}
