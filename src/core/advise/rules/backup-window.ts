import type { Assessment } from '../../assess/assessment.ts';
import type { NightAhead } from '../../backup/backup-view.ts';
import type { Instant } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, formatCount, formatDuration } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { type Outcome, type Rule, type RuleResult, resultOf } from './rule.ts';

/** So long before it begins it is told that a night will not suffice: by day more may come, and copies are made as well. */
const EVENING_MS = 8 * 3_600_000;
/** With so much of the window left over it is taken back. */
const CLEAR_HEADROOM = 0.1;

/** What is left to copy in the evening does not fit the window of its night. */
export const backupWindow: Rule = {
  kind: 'backup-window',
  immediate: false,
  evaluate: ({ at, backups }: Assessment): RuleResult =>
    resultOf([...backups.outlooks].map(([volume, { nights }]) => [volume, judge(volume, nights, at)] as const)),
};

/** The fullest of its nights. */
function judge(volume: string, nights: readonly (NightAhead | null)[], at: Instant): Outcome {
  const known = nights.filter((night) => night !== null);
  const worst = known.reduce<NightAhead | null>(
    (full, night) => (full === null || headroomOf(night, at) < headroomOf(full, at) ? night : full),
    null,
  );
  if (worst === null) return nights.length === 0 ? null : 'figure-unknown';
  const headroom = headroomOf(worst, at);
  if (headroom >= CLEAR_HEADROOM) return null;
  const isEvening = worst.slotAt !== null && worst.slotAt - at <= EVENING_MS;
  if (headroom >= 0 || !isEvening) return { between: findingOf(volume, worst, at) };
  return findingOf(volume, worst, at);
}

/** The part of the window that is left over: a backup that is under way has the time before the night as well. */
function headroomOf({ headroom, isRunning, slotAt, windowSeconds }: NightAhead, at: Instant): number {
  return isRunning ? headroom + untilSlot(slotAt, at) / windowSeconds : headroom;
}

/** Seconds until the night begins. */
function untilSlot(slotAt: Instant | null, at: Instant): number {
  return slotAt === null ? 0 : Math.max(0, slotAt - at) / 1000;
}

function findingOf(volume: string, night: NightAhead, at: Instant): Finding {
  const { bytes, seconds, windowSeconds, nightBytes, nights, bytesPerDay } = night;
  const left = Math.max(0, bytes - nightBytes);
  const all = nights === null ? 'it will never catch up' : `all of it takes about ${formatCount(nights, 'night')}`;
  const rest =
    left > 0
      ? `; about ${formatBytes(left)} stay without their copies until the next one, and ${all}. Keep the cards`
      : '';
  return {
    kind: 'backup-window',
    subject: volume,
    severity: 'warning',
    message: `${display(volume)}: the coming night's backup has ${formatBytes(bytes)} to copy and to read back, about ${formatDuration(seconds)} as fast as before. Its window is ${formatDuration(windowSeconds)}${rest}.`,
    figures: { bytes, seconds: Math.round(seconds), windowSeconds, nights, bytesPerDay: Math.round(bytesPerDay) },
    remedies: remediesOf(night, at),
  };
}

function remediesOf(night: NightAhead, at: Instant): Remedy[] {
  const { bytes, seconds, windowSeconds, nightBytes, slotAt, isRunning } = night;
  const before = untilSlot(slotAt, at);
  const more = Math.min(bytes, (nightBytes / windowSeconds) * before);
  const needed = Math.ceil(seconds / 3600);
  return [
    {
      action: isRunning
        ? 'Let the backup go on that is under way; it gives way to playback'
        : 'Run "headroomd backup now"; it gives way to playback',
      effect: `${formatDuration(before)} are left before the night, for about ${formatBytes(more)}`,
    },
    ...(needed > 24
      ? []
      : [
          {
            action: `Set window = "${needed}h" for this backup in the configuration`,
            effect: `what is left to copy now then fits one night`,
          },
        ]),
  ];
}
