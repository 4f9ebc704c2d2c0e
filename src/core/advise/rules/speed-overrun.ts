import type { Assessment, MulticamGroup, VolumeAssessment } from '../../assess/assessment.ts';
import { heaviestGroup } from '../../assess/stream-load.ts';
import { display } from '../../present/escape.ts';
import type { ProjectSum } from '../../store-ports.ts';
import { formatRate } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { fasterVolume, speedRemedies } from '../remedy.ts';
import { type HoldReason, perVolume, type Rule, type RuleResult, type Thresholds } from './rule.ts';

/** What is to be played needs more than the volume's budget. Without a budget nothing is claimed. */
export const speedOverrun: Rule = {
  kind: 'speed-overrun',
  immediate: false,
  evaluate(assessment: Assessment, thresholds: Thresholds): RuleResult {
    return perVolume(assessment, (volume) => judge(volume, assessment, thresholds));
  },
};

function judge(volume: VolumeAssessment, assessment: Assessment, thresholds: Thresholds): Finding | HoldReason | null {
  const { demandBps, readBudgetBps } = volume.speed;
  if (demandBps === null || readBudgetBps === null) return null;
  if (demandBps > readBudgetBps * thresholds.speedRaise) return findingOf(volume, demandBps, readBudgetBps, assessment);
  return demandBps >= readBudgetBps * thresholds.speedClear ? 'between-thresholds' : null;
}

/** A project's group and its footprint. */
interface Cause {
  sum: ProjectSum;
  group: MulticamGroup;
}

function findingOf(volume: VolumeAssessment, demandBps: number, budgetBps: number, assessment: Assessment): Finding {
  const cause = causeOf(volume, assessment);
  return {
    kind: 'speed-overrun',
    subject: volume.name,
    severity: 'warning',
    message: messageOf(volume, demandBps, budgetBps, cause),
    figures: {
      demandBps,
      budgetBps,
      shortBps: demandBps - budgetBps,
      angles: cause?.group.angles ?? 1,
      project: cause?.sum.project ?? null,
      demandFrom: volume.speed.demandFrom,
    },
    remedies: [
      ...(cause === null ? [] : speedRemedies(cause.group, cause.sum.formats, budgetBps)),
      ...(demandBps > budgetBps ? [fasterVolume(demandBps, budgetBps, volume.speed.reserveShare)] : []),
    ],
  };
}

/** The multicam group that the demand is of; `null` when it is of a single clip. */
function causeOf(volume: VolumeAssessment, assessment: Assessment): Cause | null {
  const projects = assessment.projects.filter(({ sum }) => sum.volume === volume.name);
  const group = heaviestGroup(projects.flatMap(({ multicam }) => multicam));
  const owner = projects.find(({ multicam }) => group !== null && multicam.includes(group));
  return group === null || owner === undefined || (volume.speed.streams ?? 1) < 2 ? null : { sum: owner.sum, group };
}

function messageOf(volume: VolumeAssessment, demandBps: number, budgetBps: number, cause: Cause | null): string {
  const what =
    cause === null
      ? display(volume.speed.demandFrom ?? 'playing what was recorded last')
      : `playing ${cause.group.angles} angles of ${display(cause.sum.project ?? '')} at once`;
  if (demandBps <= budgetBps) {
    return `${display(volume.name)}: ${what} needs ${formatRate(demandBps)}, close to the ${formatRate(budgetBps)} this volume may be asked for.`;
  }
  return (
    `${display(volume.name)}: ${what} needs ${formatRate(demandBps)}, ${formatRate(demandBps - budgetBps)} more than the ` +
    `${formatRate(budgetBps)} this volume may be asked for. Expect dropped frames.`
  );
}
