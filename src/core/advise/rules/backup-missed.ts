import type { Assessment } from '../../assess/assessment.ts';
import type { WaitReason } from '../../backup/due.ts';
import type { DueNight } from '../../backup/due-nights.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, isoWithOffset } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { type Outcome, perDueNight, type Rule, type RuleResult } from './rule.ts';

/** The window of a night has ended, and no backup began in it although its shelf is there. One that began and failed is told by itself. */
export const backupMissed: Rule = {
  kind: 'backup-missed',
  immediate: true,
  evaluate: (assessment: Assessment): RuleResult =>
    perDueNight(assessment, (volume, night) => judge(volume, night, assessment)),
};

function judge(volume: string, night: DueNight, { at, zone }: Assessment): Outcome {
  const { missed, windowEndsAt, wait, isThere, lacksBytes } = night;
  if (missed === null || windowEndsAt === null || lacksBytes === 0) return null;
  // Of a shelf that is away, and of a run that failed before, others tell; and one may begin at any moment.
  if (!isThere || wait === null || wait === 'waits-to-retry' || at < windowEndsAt) return 'judged-again';
  return findingOf(volume, night, wait, zone);
}

function findingOf(volume: string, { shelf, missed, lacksBytes }: DueNight, wait: WaitReason, zone: string): Finding {
  const slot = isoWithOffset(missed?.last ?? 0, zone)
    .slice(0, 16)
    .replace('T', ' ');
  const what = lacksBytes === null ? 'What it lacks waits' : `${formatBytes(lacksBytes)} wait`;
  return {
    kind: 'backup-missed',
    subject: `${volume}/${shelf}`,
    severity: 'warning',
    message: `The backup of ${display(volume)} to ${display(shelf)} on ${slot} has not begun, and its window is over: ${WAIT_WORDS[wait] ?? 'nothing told why'}. ${what}.`,
    figures: { missedAt: missed?.last ?? null, missedSince: missed?.first ?? null, lacksBytes, reason: wait },
    remedies: [
      {
        action: `Pause what asks so much of ${display(volume)}, for playback and renders go first; the backup then begins by itself`,
        effect:
          lacksBytes === null
            ? 'what the shelf lacks is copied and read back'
            : `${formatBytes(lacksBytes)} are copied and read back`,
      },
    ],
  };
}

const WAIT_WORDS: Partial<Record<WaitReason, string>> = {
  playback: 'playback needed what the volume gives',
  'volume-saturated': 'others asked for all that the volume gives',
};
