import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import type { Arrival } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { formatCount, formatRate, formatShare } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { type HoldReason, perVolume, type Rule, type RuleResult } from './rule.ts';

/**
 * What goes on takes most of what the volume gives, and has for some minutes. It has waited before it got here
 * (core/assess/load-watch.ts), so it is told at once.
 */
export const volumeBusy: Rule = {
  kind: 'volume-busy',
  immediate: true,
  evaluate(assessment: Assessment): RuleResult {
    return perVolume(assessment, (volume) => judge(volume, assessment));
  },
};

function judge(volume: VolumeAssessment, { arrivals }: Assessment): Finding | HoldReason | null {
  const { load } = volume;
  if (load === null) return 'figure-unknown';
  if (!load.isHigh) return null;
  const { share, readBps, writeBps, ownReadBps } = load;
  return {
    kind: 'volume-busy',
    subject: volume.name,
    severity: 'warning',
    message:
      `${display(volume.name)} has been busy for minutes with ${formatShare(share)} of what it gives: ${formatRate(readBps)} are read and ` +
      `${formatRate(writeBps)} written. Playback from it may stutter.`,
    figures: { share, readBps, writeBps, ownReadBps, basis: volume.speed.basis },
    remedies: remediesOf(volume, load, arrivals),
  };
}

type Load = NonNullable<VolumeAssessment['load']>;

function remediesOf({ name }: VolumeAssessment, load: Load, arrivals: readonly Arrival[]): Remedy[] {
  const copies = arrivals.filter(({ volume, stage }) => volume === name && stage === 'copying');
  const copiedBps = copies.reduce((sum, { bytesPerSecond }) => sum + (bytesPerSecond ?? 0), 0);
  const otherBps = load.writeBps - copiedBps;
  const remedies = [
    ...(copiedBps > 0
      ? [
          {
            action: `Play when ${formatCount(copies.length, 'copy is', 'copies are')} through, or copy one card after the other`,
            effect: `${copies.length === 1 ? 'it takes' : 'they take'} ${formatRate(copiedBps)}`,
          },
        ]
      : []),
    ...(otherBps > load.writeBps / 10
      ? [
          {
            action: 'Pause renders, exports and backups while you play',
            effect: `what writes besides takes ${formatRate(otherBps)}`,
          },
        ]
      : []),
  ];
  if (remedies.length > 0) return remedies;
  const others = Math.max(0, load.readBps - load.ownReadBps);
  return [
    {
      action: 'Look which program reads so much, and let it wait while you play',
      effect: `others read ${formatRate(others)}`,
    },
  ];
}
