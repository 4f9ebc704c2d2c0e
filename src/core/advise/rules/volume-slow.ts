import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { usedBytes, writableBytes } from '../../assess/capacity.ts';
import type { MeasuredSpeed } from '../../assess/measured-speed.ts';
import { display } from '../../present/escape.ts';
import { formatRate, formatShare, isoWithOffset } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { type Outcome, perVolume, type Rule, type RuleResult } from './rule.ts';

/**
 * Below this share of what is expected fewer than three in a hundred such volumes lie: the expectation has a spread of .35 in the
 * logarithm (core/assess/expected-speed.ts), and half is 1.98 of these.
 */
const RAISE_BELOW = 0.5;
const CLEAR = 0.6;
/** File systems that are so full look long for free room, and spread what they write (common practice, no source). */
const NEARLY_FULL = 0.9;

/** A measurement found a volume to give much less than its layout lets expect. Without a measurement nothing is claimed. */
export const volumeSlow: Rule = {
  kind: 'volume-slow',
  immediate: true,
  evaluate: (assessment: Assessment): RuleResult => perVolume(assessment, (volume) => judge(volume, assessment.zone)),
};

function judge(volume: VolumeAssessment, zone: string): Outcome {
  const { measured } = volume;
  if (measured === null) return null;
  const share = shareOf(measured);
  if (share >= CLEAR) return null;
  const finding = findingOf(volume, measured, zone);
  return share < RAISE_BELOW ? finding : { between: finding };
}

/** The worse of both ways. */
function shareOf({ readBps, writeBps, expectedReadBps, expectedWriteBps }: MeasuredSpeed): number {
  return Math.min(readBps / expectedReadBps, writeBps / expectedWriteBps);
}

function findingOf(volume: VolumeAssessment, measured: MeasuredSpeed, zone: string): Finding {
  const { at, readBps, writeBps, expectedReadBps, expectedWriteBps } = measured;
  const layout =
    volume.layout === null ? '' : ` (level ${volume.layout.level}, ${volume.layout.members} x ${volume.layout.drive})`;
  const day = isoWithOffset(at, zone).slice(0, 10);
  return {
    kind: 'volume-slow',
    subject: volume.name,
    severity: 'notice',
    message: `${display(volume.name)} was measured on ${day} to read ${formatRate(readBps)} and to write ${formatRate(writeBps)}. Of such a volume${layout} about ${formatRate(expectedReadBps)} and ${formatRate(expectedWriteBps)} can be expected. What it may be asked for goes by what was measured.`,
    figures: { readBps, writeBps, expectedReadBps, expectedWriteBps, measuredAt: at },
    remedies: remediesOf(volume, measured),
  };
}

function remediesOf(volume: VolumeAssessment, measured: MeasuredSpeed): Remedy[] {
  const effect = `up to ${formatRate(measured.expectedReadBps)} instead of ${formatRate(measured.readBps)}`;
  const name = display(volume.name);
  return [
    ...hintsOf(volume).map((action) => ({ action, effect })),
    {
      action: `Look at cable and port: what all drives hang on together is not seen here. Then run "headroomd measure ${name}"`,
      effect: `${effect}; if the cable gives no more, write it as link of the layout, and nothing more is expected`,
    },
  ];
}

/** Slow down the file system itself: everything is written at once, compressed, or goes through a program. */
const SLOW_OPTIONS = /^(sync|dirsync|compress(-force)?(=.*)?)$/;

/** What the file system and its array tell of why. */
function hintsOf({ name, capacity, mountOptions, fileSystem, detected }: VolumeAssessment): string[] {
  const filled = capacity === null ? 0 : usedBytes(capacity.space) / Math.max(1, writableBytes(capacity.space));
  const slow = mountOptions.filter((option) => SLOW_OPTIONS.test(option) && option !== 'compress=no');
  const isWhole = detected === null || detected.health.state === 'whole';
  return [
    ...(isWhole ? [] : [`Wait until the array of ${display(name)} is whole again, then measure again`]),
    ...(filled > NEARLY_FULL
      ? [
          `Make room on ${display(name)}: ${formatShare(filled)} of it is in use, and file systems get slow above ${formatShare(NEARLY_FULL)}`,
        ]
      : []),
    ...(slow.length > 0 ? [`Mount ${display(name)} without ${slow.map(display).join(' and ')}`] : []),
    ...(fileSystem === 'fuseblk'
      ? [
          `Mount ${display(name)} with a driver of the kernel, or keep it on another file system: all goes through a program now (fuseblk)`,
        ]
      : []),
  ];
}
