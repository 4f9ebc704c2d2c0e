import { type CommandRun, isCommandOver, unsaid } from '../../backup/command-run.ts';
import { display } from '../../present/escape.ts';
import { formatCount } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import type { Outcome } from './rule.ts';

/** What is to be said of a program of the user's that copies, as of a backup that failed. While it runs the last word stands. */
export function commandOutcome(run: CommandRun): readonly [subject: string, Outcome] {
  const subject = `${run.volume}/${run.name}`;
  return [subject, isCommandOver(run) ? failedOf(subject, run) : 'judged-again'];
}

function failedOf(subject: string, run: CommandRun): Finding | null {
  const { stage, why, failures, troubles, volume, name } = run;
  const left = stage === 'done' ? unsaid(run) : 0;
  if (why === null && failures === 0 && left === 0) return null;
  const what = `The last copying of ${display(volume)} to ${display(name)} by its command`;
  const [first] = troubles;
  const message =
    why !== null
      ? `${what} did not end well: ${display(why.message)}`
      : failures > 0
        ? `${what} left ${formatCount(failures, 'file')} behind${first === undefined ? '' : `, first: ${display(first.message)}`}.`
        : `${what} said nothing of ${formatCount(left, 'file')}, so ${left === 1 ? 'it does' : 'they do'} not count as copied.`;
  return {
    kind: 'backup-failed',
    subject,
    severity: 'warning',
    message,
    figures: { stage, reason: why?.reason ?? null, failures, unsaid: left },
    remedies: [
      {
        action: `Put that right, then run "headroomd backup now ${display(name)}"`,
        effect: 'what the command has said to be copied is not listed again',
      },
    ],
  };
}
