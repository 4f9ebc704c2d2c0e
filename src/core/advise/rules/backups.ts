import type { Assessment } from '../../assess/assessment.ts';
import type { BackupRun } from '../../backup/backup-run.ts';
import { display } from '../../present/escape.ts';
import { formatCount } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { type Rule, type RuleResult, resultOf } from './rule.ts';

const subjectOf = ({ volume, shelf, cause }: BackupRun): string =>
  `${volume}/${shelf}${cause === 'project-files' ? ', project files' : ''}`;

/** A backup that was not begun, broke off, or left files behind. While another one runs the last word stands. */
export const backupFailed: Rule = {
  kind: 'backup-failed',
  immediate: true,
  evaluate: ({ backups }: Assessment): RuleResult =>
    resultOf(
      backups.runs.map((run) => {
        const isGoing = run.endedAt === null && run.stage !== 'stopped';
        return [subjectOf(run), isGoing ? 'judged-again' : failedOf(run, isAwayAsUsual(run, backups))] as const;
      }),
    ),
};

/** A shelf that leaves the building is not here, and that is no failure. */
function isAwayAsUsual({ shelf, why }: BackupRun, { shelves }: Assessment['backups']): boolean {
  return why?.reason === 'shelf-absent' && shelves.some(({ name, rotate }) => name === shelf && rotate);
}

function failedOf(run: BackupRun, isAway: boolean): Finding | null {
  const { stage, why, failures, troubles, volume, shelf, cause } = run;
  const isBad = stage === 'refused' || stage === 'broken';
  if ((!isBad && failures === 0) || isAway) return null;
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

/** A copy that is no longer what was written, or an original that is no longer what was copied. Neither file is touched. */
export const copyDiffers: Rule = {
  kind: 'copy-differs',
  immediate: true,
  evaluate: ({ backups }: Assessment): RuleResult =>
    resultOf(
      backups.runs.map((run) => {
        const isGoing = run.endedAt === null && run.stage !== 'stopped';
        return [subjectOf(run), isGoing ? 'judged-again' : differsOf(run)] as const;
      }),
    ),
};

function differsOf(run: BackupRun): Finding | null {
  const { bad, altered, volume, shelf } = run;
  if (bad.length + altered.length === 0) return null;
  const [first] = bad;
  const rotten =
    first === undefined
      ? []
      : [
          `${formatCount(bad.length, 'copy', 'copies')} on ${display(shelf)} ${bad.length === 1 ? 'is' : 'are'} not what was written, first ${display(first.path)} (${first.state === 'unread' ? 'it cannot be read' : 'its content changed'}). ${SOURCE_WORDS[first.is]} (${display(volume)}: ${display(first.source)})`,
        ];
  const changed =
    altered.length === 0
      ? []
      : [
          `${formatCount(altered.length, 'recording')} on ${display(volume)} ${altered.length === 1 ? 'is' : 'are'} not what was copied before, first ${display(altered[0] ?? '')}. The first copy stays on ${display(shelf)} as it is; the other was copied beside it`,
        ];
  return {
    kind: 'copy-differs',
    subject: subjectOf(run),
    severity: 'critical',
    message: `${[...rotten, ...changed].join('. ')}. Nothing was touched: look which one is right, and keep the cards.`,
    figures: { bad: bad.length, altered: altered.length },
    remedies: [
      {
        action: `Compare both files, keep the good one, then run "headroomd backup now ${display(shelf)}"`,
        effect: 'both are read again',
      },
    ],
  };
}

const SOURCE_WORDS = {
  'as-copied': 'The file on the working volume was read again and is what was copied',
  differs: 'The file on the working volume was read again and is not what was copied either',
  unread: 'The file on the working volume is not there or cannot be read',
} as const;
