import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import type { Instant } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { formatAge, formatBytes, formatCount } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { type Outcome, perVolume, type Rule, type RuleResult } from './rule.ts';

/** A night has passed without a copy, and the day after it: whatever was to make one did not. */
const LATE_MS = 36 * 3_600_000;

/** Footage is without its verified copies for longer than a night: backups do not reach it. */
export const footageExposed: Rule = {
  kind: 'footage-exposed',
  immediate: true,
  evaluate: (assessment: Assessment): RuleResult => perVolume(assessment, (volume) => judge(volume, assessment)),
};

/** Whether this is told of a volume. */
export function isLate({ at, volumes }: Assessment, name: string): boolean {
  const { exposedBytes = 0, exposedSince = null } = volumes.find((volume) => volume.name === name)?.safety ?? {};
  return exposedBytes > 0 && exposedSince !== null && at - exposedSince >= LATE_MS;
}

function judge(volume: VolumeAssessment, assessment: Assessment): Outcome {
  const { safety } = volume;
  if (safety === null) return 'figure-unknown';
  const { exposedBytes, exposedSince } = safety;
  if (exposedBytes === 0) return null;
  if (exposedSince === null) return 'figure-unknown';
  return assessment.at - exposedSince < LATE_MS ? null : findingOf(volume, exposedSince, assessment);
}

function findingOf({ name, safety }: VolumeAssessment, since: Instant, { at, backups }: Assessment): Finding {
  const bytes = safety?.exposedBytes ?? 0;
  const clips = safety?.exposedClips ?? 0;
  const hasBackup = backups.outlooks.has(name) || backups.shelves.some(({ volumes }) => volumes.includes(name));
  const footage = `${formatBytes(bytes)} of footage${clips === 0 ? '' : ` (${formatCount(clips, 'clip')})`}`;
  const age = formatAge((at - since) / 1000);
  const severity = hasBackup && !waitsForRotation(name, backups) ? 'warning' : 'notice';
  const why = hasBackup ? '' : ', for no backup of it is configured';
  return {
    kind: 'footage-exposed',
    subject: name,
    severity,
    message: `${display(name)}: ${footage} has fewer verified copies than you want, the oldest for ${age}${why}. If the volume fails it is lost, unless it is still on its cards: keep them.`,
    figures: { exposedBytes: bytes, exposedClips: clips, exposedForSeconds: Math.round((at - since) / 1000) },
    remedies: remediesOf(name, bytes, backups, hasBackup),
  };
}

/** One shelf is here, and what it cannot do is for those that left the building, as is usual for them. */
function waitsForRotation(name: string, { shelves }: Assessment['backups']): boolean {
  const mine = shelves.filter(({ volumes }) => volumes.includes(name));
  const away = mine.filter(({ state }) => state === 'shelf-absent');
  return away.length > 0 && away.length < mine.length && away.every(({ rotate }) => rotate);
}

function remediesOf(name: string, bytes: number, { shelves }: Assessment['backups'], hasBackup: boolean): Remedy[] {
  if (!hasBackup) {
    return [
      {
        action: 'Write a [[shelf]] on another drive and a [[backup]] into the configuration',
        effect: `${formatBytes(bytes)} are copied there and read back, each night and ten minutes after footage came`,
      },
    ];
  }
  const mine = shelves.filter(({ volumes }) => volumes.includes(name));
  const away = mine.filter(({ state }) => state === 'shelf-absent');
  return [
    ...away.map((shelf) => ({
      action: `Mount ${display(shelf.name)}`,
      effect: 'what it lacks is copied to it at once, and read back',
    })),
    ...(away.length === mine.length
      ? []
      : [
          {
            action: 'Run "headroomd backup now", and look at "headroomd backup status" for what it left behind',
            effect: `up to ${formatBytes(bytes)} get a copy that is read back`,
          },
        ]),
  ];
}
