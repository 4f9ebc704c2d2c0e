import type { ProjectSum } from '../store-ports.ts';
import type { SafetyAssessment } from './assessment.ts';

/**
 * Adds up what has fewer verified copies than wanted on one volume. The trash is left out: its owner gave it up.
 * `null` when it is not known of any part (a lost ledger): a sum without that part would read as safety.
 */
export function assessExposure(sums: readonly ProjectSum[]): SafetyAssessment | null {
  const total: SafetyAssessment = { exposedBytes: 0, exposedClips: 0, exposedSeconds: 0, exposedSince: null };
  for (const sum of sums) {
    if (sum.area === 'trash') continue;
    if (sum.exposed === null) return null;
    total.exposedBytes += sum.exposed.bytes;
    total.exposedClips += sum.exposed.clips;
    total.exposedSeconds += sum.exposed.durationSeconds;
    total.exposedSince = earlier(total.exposedSince, sum.exposed.since);
  }
  return total;
}

function earlier(one: number | null, other: number | null): number | null {
  if (one === null || other === null) return one ?? other;
  return Math.min(one, other);
}
