import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import type { DueNight } from '../../backup/due-nights.ts';
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

/** Too little to raise it, too much to take it back: what is said of it meanwhile, where it stands. */
export interface Standing {
  between: Finding;
}

/** What was found of one subject. `null`: its condition is over. */
export type Outcome = Finding | Standing | HoldReason | null;

export interface RuleResult {
  /** Conditions that hold now. */
  findings: Finding[];
  /** Of subjects between their thresholds, so that what stands does not keep old figures. */
  standing?: Finding[];
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

/** Sorts what was found of each subject. `isAway`: nothing can be said of it now. */
export function resultOf(
  outcomes: Iterable<readonly [string, Outcome]>,
  isAway: (subject: string) => boolean = () => false,
): RuleResult {
  const findings: Finding[] = [];
  const standing: Finding[] = [];
  const held = new Map<string, HoldReason>();
  for (const [subject, outcome] of outcomes) {
    if (outcome === null) continue;
    if (typeof outcome === 'string') held.set(subject, outcome);
    else if (!('between' in outcome)) findings.push(outcome);
    else {
      standing.push(outcome.between);
      held.set(subject, 'between-thresholds');
    }
  }
  return { findings, standing, holds: (subject) => held.get(subject) ?? (isAway(subject) ? 'root-not-live' : null) };
}

/**
 * Judges every volume by itself, the volume's name being the subject. Figures of a root that is not live are old:
 * they neither raise nor clear anything.
 */
export function perVolume(assessment: Assessment, judge: (volume: VolumeAssessment) => Outcome): RuleResult {
  return resultOf(
    assessment.volumes.map((volume) => [volume.name, volume.state === 'live' ? judge(volume) : 'root-not-live']),
  );
}

/** Judges each night that a backup of a volume owes to a shelf, and the next one. Right after a start shelves were not looked at yet. */
export function perDueNight(
  { backups: { outlooks, shelves } }: Assessment,
  judge: (volume: string, night: DueNight) => Outcome,
): RuleResult {
  const all = [...outlooks].flatMap(([volume, { due }]) => due.map((night) => ({ volume, night })));
  return resultOf(
    all.map(({ volume, night }) => [`${volume}/${night.shelf}`, judge(volume, night)] as const),
    () => outlooks.size === 0 && shelves.length > 0,
  );
}
