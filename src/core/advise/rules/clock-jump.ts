import type { Assessment } from '../../assess/assessment.ts';
import type { ClockJump } from '../../assess/clock-watch.ts';
import { formatDuration, isoWithOffset } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { type Rule, type RuleResult, resultOf } from './rule.ts';

/** The clock of the machine was set by more than a minute within the last day. */
export const clockJump: Rule = {
  kind: 'clock-jump',
  immediate: true,
  evaluate({ machine, zone }: Assessment): RuleResult {
    return resultOf(machine.clockJump === null ? [] : [['clock', findingOf(machine.clockJump, zone)]]);
  },
};

function findingOf({ at, byMs }: ClockJump, zone: string): Finding {
  const isForward = byMs > 0;
  const [said, says] = [at - byMs, at].map((instant) => isoWithOffset(instant, zone).slice(0, 19).replace('T', ' '));
  const meaning = isForward
    ? 'A backup that was due in between is made up for'
    : 'A backup of that time is not made again, and what came before may seem to lie ahead';
  return {
    kind: 'clock-jump',
    subject: 'clock',
    severity: 'notice',
    message: `The clock of this machine was put ${isForward ? 'forward' : 'back'} by ${formatDuration(Math.abs(byMs) / 1000)}: instead of ${said} it said ${says}. ${meaning}. Times that were told before go by the clock as it was.`,
    figures: { byMs, at },
    remedies: [
      {
        action: 'Look whether the clock is right now (timedatectl), and have a time server set it',
        effect: 'it then stays right to the second, and backups begin within a minute of their hour',
      },
    ],
  };
}
