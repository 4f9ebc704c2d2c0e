import type { Assessment } from '../../assess/assessment.ts';
import type { ShelfState } from '../../backup/backup-view.ts';
import type { DueNight } from '../../backup/due-nights.ts';
import type { Instant } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { formatAge, formatBytes, isoWithOffset } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { isLate } from './footage-exposed.ts';
import { type Outcome, perDueNight, type Rule, type RuleResult } from './rule.ts';

/** So long before its backup is due there is time to fetch a shelf. */
const EVENING_MS = 8 * 3_600_000;
/** A shelf that is mounted a little late has missed nothing: its backup begins as soon as it is there. */
const GRACE_MS = 10 * 60_000;

/** A shelf is not there, or cannot be used, when its backup is due. One that leaves the building is away as usual. */
export const shelfAbsent: Rule = {
  kind: 'shelf-absent',
  immediate: false,
  evaluate: (assessment: Assessment): RuleResult =>
    perDueNight(assessment, (volume, night) => judge(volume, night, assessment)),
};

function judge(volume: string, night: DueNight, assessment: Assessment): Outcome {
  const shelf = assessment.backups.shelves.find(({ name }) => name === night.shelf);
  if (shelf === undefined || shelf.state === null) return 'figure-unknown';
  if (night.isThere || shelf.rotate || night.lacksBytes === 0) return null;
  const { missed, nextAt } = night;
  const { at } = assessment;
  const finding =
    missed === null ? comingOf(volume, night, shelf, assessment) : missedOf(volume, night, shelf, assessment);
  const isTold = missed === null ? nextAt !== null && nextAt - at <= EVENING_MS : at - missed.first >= GRACE_MS;
  // That footage has been without its copies for long is said already, and which shelf is to be mounted.
  return isTold && !isLate(assessment, volume) ? finding : { between: finding };
}

function missedOf(volume: string, night: DueNight, shelf: ShelfState, { at, zone }: Assessment): Finding {
  const { first, last } = night.missed ?? { first: at, last: at };
  const since = first === last ? '' : ` and has not been since ${momentOf(first, zone)}`;
  return {
    ...headOf(volume, night),
    severity: 'warning',
    message: `${display(shelf.name)} was not ready for the backup of ${display(volume)} on ${momentOf(last, zone)}${since}. ${waitingWords(night)} ${whyWords(shelf)}`,
    remedies: remediesOf(shelf, at),
  };
}

function comingOf(volume: string, night: DueNight, shelf: ShelfState, { at, zone }: Assessment): Finding {
  const due = night.nextAt === null ? '' : ` on ${momentOf(night.nextAt, zone)}`;
  return {
    ...headOf(volume, night),
    severity: 'notice',
    message: `${display(shelf.name)} is not ready for the backup of ${display(volume)}${due}. ${waitingWords(night)} ${whyWords(shelf)}`,
    remedies: remediesOf(shelf, at),
  };
}

function headOf(
  volume: string,
  { shelf, lacksBytes, missed, nextAt }: DueNight,
): Omit<Finding, 'message' | 'remedies' | 'severity'> {
  const figures = { lacksBytes, missedAt: missed?.last ?? null, missedSince: missed?.first ?? null, nextAt };
  return { kind: 'shelf-absent', subject: `${volume}/${shelf}`, figures };
}

function waitingWords({ lacksBytes }: DueNight): string {
  return lacksBytes === null ? 'What it lacks waits.' : `${formatBytes(lacksBytes)} wait for it.`;
}

/** As it was found at the last look: a sentence that begins with the shelf's name or place, or with a word. */
function whyWords({ message }: ShelfState): string {
  return display(message ?? '').replace(/^(what|nothing) /, (word) =>
    word.replace(/^./, (letter) => letter.toUpperCase()),
  );
}

function remediesOf({ name, state, known }: ShelfState, at: Instant): Remedy[] {
  const seen =
    known === null ? 'it was never seen here' : `it was last seen ${formatAge((at - known.seenAt) / 1000)} ago`;
  return [
    {
      action:
        state === 'shelf-absent' ? `Mount ${display(name)}` : `Put that right, so that ${display(name)} can be used`,
      effect: `what it lacks is copied at once and read back (${seen})`,
    },
    {
      action: `If it leaves the building as a rule, write rotate = true for ${display(name)} into the configuration`,
      effect: 'it is then only told when footage has been without copies for 36 h',
    },
  ];
}

/** `2027-03-04 04:00`. */
function momentOf(at: Instant, zone: string): string {
  return isoWithOffset(at, zone).slice(0, 16).replace('T', ' ');
}
