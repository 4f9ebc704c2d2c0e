import type { Assessment, CapacityAssessment, VolumeAssessment } from '../../assess/assessment.ts';
import { usedBytes, writableBytes } from '../../assess/capacity.ts';
import type { Arrival, Severity } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { formatBytes } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { roomRemedies } from '../remedy.ts';
import { type Outcome, perVolume, type Rule, type RuleResult } from './rule.ts';

/** Shares of what the user can write in all. Between "raise" and "clear" what is raised stays, and nothing new is raised. */
const CRITICAL_BELOW = 0.02;
const CRITICAL_CLEAR = 0.03;
const ROOM_CLEAR = 0.01;
/** The same for "another clip of the largest size fits". */
const CLIP_CLEAR = 1.1;

/** Room below the reserve (warning); nearly full, or too full for another clip as large as the largest arriving (critical). */
export const capacityReserve: Rule = {
  kind: 'capacity-reserve',
  immediate: false,
  evaluate(assessment: Assessment): RuleResult {
    return perVolume(assessment, (volume) => judge(volume, assessment));
  },
};

function judge(volume: VolumeAssessment, assessment: Assessment): Outcome {
  if (volume.capacity === null) return 'figure-unknown';
  const largest = largestArrival(assessment.arrivals, volume.name);
  const severity = severityOf(volume.capacity, largest);
  if (severity !== null) return findingOf(volume, volume.capacity, severity, largest, assessment);
  if (isClear(volume.capacity, largest)) return null;
  return { between: findingOf(volume, volume.capacity, 'warning', largest, assessment) };
}

function severityOf(capacity: CapacityAssessment, largest: number): Severity | null {
  const { availableBytes } = capacity.space;
  if (availableBytes < CRITICAL_BELOW * writableBytes(capacity.space) || availableBytes < largest) return 'critical';
  return capacity.roomBytes < 0 ? 'warning' : null;
}

/** Bytes to free until none of the conditions above holds. */
function shortBytes({ space, roomBytes }: CapacityAssessment, largest: number): number {
  const floor = Math.max(CRITICAL_BELOW * writableBytes(space), largest);
  return Math.max(-roomBytes, floor - space.availableBytes);
}

function isClear(capacity: CapacityAssessment, largest: number): boolean {
  const { availableBytes } = capacity.space;
  const writable = writableBytes(capacity.space);
  return (
    capacity.roomBytes > ROOM_CLEAR * writable &&
    availableBytes > CRITICAL_CLEAR * writable &&
    availableBytes > CLIP_CLEAR * largest
  );
}

/** Bytes of the largest arrival on the volume that is, or may become, a clip. */
function largestArrival(arrivals: readonly Arrival[], volume: string): number {
  return arrivals
    .filter((arrival) => arrival.volume === volume && arrival.stage !== 'refused')
    .reduce((largest, arrival) => Math.max(largest, arrival.bytes), 0);
}

function findingOf(
  volume: VolumeAssessment,
  capacity: CapacityAssessment,
  severity: Severity,
  largest: number,
  assessment: Assessment,
): Finding {
  const { availableBytes, totalBytes } = capacity.space;
  return {
    kind: 'capacity-reserve',
    subject: volume.name,
    severity,
    message: messageOf(volume, capacity, severity, largest),
    figures: {
      availableBytes,
      reserveBytes: capacity.reserveBytes,
      roomBytes: capacity.roomBytes,
      usedBytes: usedBytes(capacity.space),
      totalBytes,
      largestArrivalBytes: largest,
    },
    remedies: [...roomRemedies(volume, assessment, shortBytes(capacity, largest)), elsewhere(capacity)],
  };
}

function elsewhere({ space }: CapacityAssessment): Remedy {
  const left = formatBytes(space.availableBytes);
  return { action: 'Copy the next card to another volume', effect: `${left} stay for what is under way` };
}

function messageOf(
  volume: VolumeAssessment,
  { space, roomBytes, reserveBytes }: CapacityAssessment,
  severity: Severity,
  largest: number,
): string {
  const left = `${display(volume.name)} has ${formatBytes(space.availableBytes)} left to write`;
  const into = roomBytes < 0 ? `, ${formatBytes(-roomBytes)} less than the ${formatBytes(reserveBytes)} kept free` : '';
  if (severity === 'critical' && space.availableBytes < largest) {
    return `${left}${into}: another clip of ${formatBytes(largest)} does not fit. Make room before the next card.`;
  }
  return `${left}${into}. ${severity === 'critical' ? 'Make room now' : 'Make room before the next card'}.`;
}
