import type { Assessment } from '../../assess/assessment.ts';
import type { BackupRun } from '../../backup/backup-run.ts';
import { display } from '../../present/escape.ts';
import { formatCount } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { commandOutcome } from './command-failed.ts';
import { type Rule, type RuleResult, resultOf } from './rule.ts';

const subjectOf = ({ volume, shelf, cause }: BackupRun): string =>
  `${volume}/${shelf}${cause === 'project-files' ? ', project files' : ''}`;

/** A backup that was not begun, broke off, or left files behind. While another one runs the last word stands. */
export const backupFailed: Rule = {
  kind: 'backup-failed',
  immediate: true,
  evaluate: ({ backups }: Assessment): RuleResult =>
    resultOf([
      ...backups.runs.map((run) => {
        const isGoing = run.endedAt === null && run.stage !== 'stopped';
        return [subjectOf(run), isGoing ? 'judged-again' : failedOf(run, isToldElsewhere(run, backups))] as const;
      }),
      ...backups.commands.flatMap(({ run }) => (run === null ? [] : [commandOutcome(run)])),
    ]),
};

/** A shelf that leaves the building is not here, and that is no failure; of one that takes no writes its own advisory tells. */
function isToldElsewhere({ volume, shelf, why, troubles }: BackupRun, backups: Assessment['backups']): boolean {
  const mine = backups.shelves.find(({ name }) => name === shelf);
  if (why?.reason === 'shelf-absent') return mine?.rotate === true || owesNight(volume, shelf, backups);
  const reasons = why === null ? troubles.map(({ reason }) => reason) : [why.reason];
  return mine?.readOnly === true && reasons.length > 0 && reasons.every((reason) => reason === 'shelf-read-only');
}

/** That a shelf was away at its time is told by itself. */
function owesNight(volume: string, shelf: string, { outlooks }: Assessment['backups']): boolean {
  const due = outlooks.get(volume)?.due ?? [];
  return due.some((one) => one.shelf === shelf && !one.isThere && one.missed !== null && one.lacksBytes !== 0);
}

function failedOf(run: BackupRun, isTold: boolean): Finding | null {
  const { stage, why, failures, troubles, volume, shelf, cause } = run;
  const isBad = stage === 'refused' || stage === 'broken';
  if ((!isBad && failures === 0) || isTold) return null;
  const [first] = troubles;
  const part = cause === 'project-files' ? 'the project files of ' : '';
  const what = `The last backup of ${part}${display(volume)} to ${display(shelf)}`;
  const left = `left ${formatCount(failures, 'file')} behind${first === undefined ? '' : `, first: ${display(first.message)}`}`;
  const message = isBad
    ? `${what} ${stage === 'refused' ? 'was not begun' : 'broke off'}: ${display(why?.message ?? '')}`
    : `${what} ${left}.`;
  const advice = isBad
    ? 'Put that right'
    : `${(first?.advice ?? 'look at the shelf').replace(/^./, (letter) => letter.toUpperCase())}`;
  return {
    kind: 'backup-failed',
    subject: subjectOf(run),
    severity: 'warning',
    message,
    figures: { stage, reason: why?.reason ?? first?.reason ?? null, failures },
    remedies: [
      {
        action: `${advice}, then run "headroomd backup now ${display(shelf)}"`,
        effect: 'what was copied before is not copied again',
      },
    ],
  };
}
