import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import type { FootageLeft } from '../../assess/capacity-forecast.ts';
import type { WorkingSession } from '../../assess/working-session.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, formatCount, formatDuration, formatRate } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { roomRemedies } from '../remedy.ts';
import { type Outcome, perVolume, type Rule, type RuleResult } from './rule.ts';

/** It is over when so many sessions fit: a take that was deleted is not enough. */
const CLEAR = 1.25;
/** Until the volume is full: about as long as it takes to see it and to act (common practice, no source). */
const CRITICAL_SECONDS = 1_800;

/** While a shoot goes on, the recording time left is less than a working session takes. */
export const footageTime: Rule = {
  kind: 'footage-time',
  immediate: false,
  evaluate: (assessment: Assessment): RuleResult => perVolume(assessment, (volume) => judge(volume, assessment)),
};

function judge(volume: VolumeAssessment, assessment: Assessment): Outcome {
  const { capacity, footageLeft: left, session } = volume;
  if (session === null) return null;
  if (capacity === null || left === null) return 'figure-unknown';
  const finding = findingOf(volume, left, session, assessment);
  // Below the reserve it is told what is left to write: that is told already, and what stands here goes along.
  if (capacity.roomBytes <= 0 && left.fullSeconds >= CRITICAL_SECONDS) return { between: finding };
  if (left.reserveSeconds < session.seconds) return finding;
  return left.reserveSeconds < CLEAR * session.seconds ? { between: finding } : null;
}

function findingOf(
  volume: VolumeAssessment,
  left: FootageLeft,
  session: WorkingSession,
  assessment: Assessment,
): Finding {
  const { reserveSeconds, fullSeconds, cameras, bps } = left;
  const missing = Math.max(0, session.seconds - reserveSeconds) * bps;
  const full = formatDuration(fullSeconds);
  const room =
    reserveSeconds > 0
      ? `${formatDuration(reserveSeconds)} of recording before its reserve is touched, and for ${full} before it is full`
      : `${full} of recording before it is full, and its reserve is in use already`;
  return {
    kind: 'footage-time',
    subject: volume.name,
    severity: fullSeconds < CRITICAL_SECONDS ? 'critical' : 'warning',
    message: `${display(volume.name)} has room for ${room} (${formatCount(cameras, 'camera')} at ${formatRate(bps)} in all). ${SESSION_WORDS[session.basis](formatDuration(session.seconds))}.`,
    figures: {
      reserveSeconds,
      fullSeconds,
      sessionSeconds: session.seconds,
      sessionBasis: session.basis,
      cameras,
      bps,
    },
    remedies: [
      ...roomRemedies(volume, assessment, missing),
      {
        action: 'Copy the next cards to another volume',
        effect: `each hour of recording takes ${formatBytes(bps * 3600)}`,
      },
    ],
  };
}

const SESSION_WORDS: Record<WorkingSession['basis'], (seconds: string) => string> = {
  plan: (time) => `A day of the shoot plan records ${time}`,
  configured: (time) => `A working session is set to ${time}`,
  'shoot-days': (time) => `A usual day of this shoot records ${time}`,
  least: (time) => `Less than ${time} is told in any case`,
};
