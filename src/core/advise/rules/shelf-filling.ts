import type { Assessment } from '../../assess/assessment.ts';
import { type BackupView, lackedBy, type ShelfState } from '../../backup/backup-view.ts';
import type { KnownShelf } from '../../backup/copies.ts';
import { meanDayBytes } from '../../backup/outlook.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, isoWithOffset } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { type Outcome, type Rule, type RuleResult, resultOf } from './rule.ts';

const DAY_MS = 86_400_000;
/** It is told when it will be full within so long, and taken back when that is later than so long. */
const RAISE_MS = 7 * DAY_MS;
const CLEAR_MS = 10 * DAY_MS;
/** Copying stops before a shelf is full to the last byte. */
const KEPT_FREE = 0.01;
/** What a larger drive is to last for. */
const LASTS_DAYS = 30;

/** A shelf cannot hold what is left to copy to it, or will be full within a week as footage comes. Of one that is away its figures are old. */
export const shelfFilling: Rule = {
  kind: 'shelf-filling',
  immediate: false,
  evaluate: (assessment: Assessment): RuleResult =>
    resultOf(assessment.backups.shelves.map((shelf) => [shelf.name, judge(shelf, assessment)] as const)),
};

function judge(shelf: ShelfState, assessment: Assessment): Outcome {
  const { known, full, state } = shelf;
  if (state !== 'ready' || known === null) return 'figure-unknown';
  const lacks = lackedBy(shelf.name, assessment.backups.outlooks);
  const over = lacks === null ? 0 : lacks - roomOn(known);
  if (lacks !== null && lacks > 0 && over > 0) return overflowOf(shelf, known, { lacks, over }, assessment);
  if (full === null) return 'figure-unknown';
  if (full.at50 === null || full.at50 - assessment.at > CLEAR_MS) return null;
  const finding = fillingOf(shelf, known, full.at50, assessment);
  return full.at50 - assessment.at <= RAISE_MS ? finding : { between: finding };
}

function roomOn({ freeBytes, totalBytes }: KnownShelf): number {
  return Math.max(0, freeBytes - KEPT_FREE * totalBytes);
}

function overflowOf(
  shelf: ShelfState,
  known: KnownShelf,
  { lacks, over }: { lacks: number; over: number },
  assessment: Assessment,
): Finding {
  return {
    ...headOf(shelf, known, lacks),
    message: `${display(shelf.name)} cannot hold what is left to copy to it: that is ${formatBytes(lacks)}, and there is room for ${formatBytes(roomOn(known))}. ${formatBytes(over)} will stay without this copy, whatever comes next as well.`,
    remedies: remediesOf(shelf, over, assessment),
  };
}

function fillingOf(shelf: ShelfState, known: KnownShelf, fullAt: number, assessment: Assessment): Finding {
  const lacks = lackedBy(shelf.name, assessment.backups.outlooks);
  const day = isoWithOffset(fullAt, assessment.zone).slice(0, 10);
  const left = `${formatBytes(known.freeBytes)} of ${formatBytes(known.totalBytes)} are left`;
  const waiting = lacks === null || lacks === 0 ? '' : `, of which ${formatBytes(lacks)} are for what it still lacks`;
  return {
    ...headOf(shelf, known, lacks),
    message: `${display(shelf.name)} will probably be full about ${day}, as footage comes and as shoots are planned: ${left}${waiting}. What comes after that gets no copy there.`,
    remedies: remediesOf(shelf, 0, assessment),
  };
}

function headOf(
  { name, full }: ShelfState,
  known: KnownShelf,
  lacks: number | null,
): Omit<Finding, 'message' | 'remedies'> {
  const { freeBytes, totalBytes } = known;
  const fullAt = full?.at50 ?? null;
  return {
    ...{ kind: 'shelf-filling', subject: name, severity: 'warning' },
    figures: { freeBytes, totalBytes, lacksBytes: lacks, fullAt: fullAt === null ? null : Math.round(fullAt) },
  };
}

/** `over`: bytes that are missing already. */
function remediesOf(
  { name, known, volumes }: ShelfState,
  over: number,
  { at, projects, backups }: Assessment,
): Remedy[] {
  const day = volumes.reduce((sum, volume) => sum + meanDayBytes(projects, volume, at), 0);
  const needed = over + LASTS_DAYS * day;
  const shown = display(name);
  const lasts =
    day > 0
      ? `${formatBytes(needed)} more room lasts about ${LASTS_DAYS} days at ${formatBytes(day)} a day`
      : needed > 0
        ? `${formatBytes(needed)} more are needed now`
        : 'what comes next has a place there';
  return [
    {
      action: `Put a larger drive in the place of ${shown}, and keep the old one, whose copies stay good`,
      effect: lasts,
    },
    ...earlierRemedy(shown, earlierBytes(backups, known), over),
  ];
}

function earlierRemedy(shelf: string, bytes: number, over: number): Remedy[] {
  if (bytes <= 0) return [];
  const short = over > bytes ? `; ${formatBytes(over - bytes)} are still missing` : '';
  return [
    {
      action: `Look through "Earlier versions" on ${shelf}, of which headroomd deletes none`,
      effect: `up to ${formatBytes(bytes)}${short}`,
    },
  ];
}

function earlierBytes({ sums }: BackupView, known: KnownShelf | null): number {
  return sums.filter(({ shelf }) => shelf === known?.id).reduce((total, sum) => total + sum.earlierBytes, 0);
}
