import type { Assessment, CardAssessment, ListOnCardAssessment } from '../../assess/assessment.ts';
import { cardFileRole } from '../../cards/card-role.ts';
import type { AlteredFile, ListCheck } from '../../cards/list-check.ts';
import { display } from '../../present/escape.ts';
import { cardTitle, namesAndMore } from '../../present/lacking-words.ts';
import { alteredWords } from '../../present/list-check.ts';
import { formatBytes, formatCount } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { type Alteration, alterationOf, isToldElsewhere } from './list-alterations.ts';
import { cameAlong, listOnCardFinding, subjectOfList } from './list-on-card.ts';
import type { HoldReason, Rule, RuleResult } from './rule.ts';

/** What is not here is missing only when nothing more of it comes: a copy goes from file to file. Our choice. */
const QUIET_MS = 60_000;

/**
 * What arrived is not what the list says that came with it, or lies on its card: altered files at once; ones that are missing
 * of a list that came with footage when nothing more of it comes. Footage that was altered is critical; what a person writes
 * anew beside it (sidecars) a warning. Files that two lists find altered are told of the one that found them first.
 */
export const listDiffers: Rule = {
  kind: 'list-differs',
  immediate: true,
  evaluate(assessment: Assessment): RuleResult {
    const held = new Map<string, HoldReason>();
    const findings: Finding[] = [];
    const alterations = alterationsIn(assessment.cards);
    for (const card of assessment.cards) {
      for (const list of card.lists) {
        const outcome = ofListOnCard(card, list, assessment, alterations);
        if (typeof outcome === 'string') held.set(subjectOfList(card, list), outcome);
        else if (outcome !== null) findings.push(outcome);
      }
      const check = untold(card.check, alterations);
      if (check === null || card.notLive.length > 0) {
        // Of a list that was not looked at yet, since the start perhaps, nothing is over.
        held.set(subjectOf(card), check === null ? 'judged-again' : 'root-not-live');
        continue;
      }
      const finding = findingOf(card, check, assessment.at);
      if (finding !== null) findings.push(finding);
      else if (isOpen(card, check)) held.set(subjectOf(card), 'judged-again');
    }
    return { findings, holds: (subject) => held.get(subject) ?? null };
  },
};

/** By check. */
type Alterations = ReadonlyMap<ListCheck, Alteration>;

function alterationsIn(cards: readonly CardAssessment[]): Alterations {
  const pairs = cards.flatMap(({ check, lists, reconciliation: { inventory } }) => [
    ...(check === null ? [] : [[check, alterationOf(check, inventory.on)] as const]),
    ...lists.flatMap((list) => (list.check === null ? [] : [[list.check, alterationOf(list.check, null)] as const])),
  ]);
  return new Map(pairs);
}

function isTold(check: ListCheck, alterations: Alterations): boolean {
  const own = alterations.get(check);
  return own !== undefined && isToldElsewhere(own, [...alterations.values()]);
}

/** Without what another list tells. */
function untold(check: ListCheck | null, alterations: Alterations): ListCheck | null {
  if (check === null || check.altered === 0 || !isTold(check, alterations)) return check;
  return { ...check, altered: 0, first: { ...check.first, altered: [] } };
}

function ofListOnCard(
  card: CardAssessment,
  list: ListOnCardAssessment,
  { at, cards }: Assessment,
  alterations: Alterations,
): Finding | HoldReason | null {
  const { check, state } = list;
  if (state === 'unread') return null;
  if (card.notLive.length > 0) return 'root-not-live';
  if (state === 'whole' && check === null) return 'judged-again';
  const isQuiet = card.state === 'gone' || isQuietSince(card, at);
  const isLost = isQuiet && check?.arriving === 0;
  const finding = listOnCardFinding(card, list, {
    altered: check === null || isTold(check, alterations) ? 0 : check.altered,
    notOnCard: isLost ? check.notOnCard : 0,
    // What is wrong with the list is told of the one that came along, if one did.
    trouble:
      state === 'unusable' && isQuiet && !cards.some((other) => cameAlong(card, list, other)) ? list.detail : null,
  });
  // What was told is not over before what came again has been read.
  return finding ?? ((check?.pending ?? 0) + (check?.arriving ?? 0) > 0 ? 'judged-again' : null);
}

function isQuietSince({ progress, stalled }: CardAssessment, at: number): boolean {
  return stalled || at - progress.since >= QUIET_MS;
}

/** Names may be given twice, ids not; a person needs the name. */
function subjectOf({ reconciliation: { inventory } }: CardAssessment): string {
  return `${inventory.name} (${inventory.id})`;
}

/** What was told of it is not over before what came has been read, and not because something still comes. */
function isOpen({ wasComplete }: CardAssessment, { pending, arriving, missing, trouble }: ListCheck): boolean {
  return pending + arriving > 0 || trouble !== null || (missing > 0 && !wasComplete);
}

function findingOf(card: CardAssessment, check: ListCheck, at: number): Finding | null {
  const isQuiet = isQuietSince(card, at);
  const missing = isQuiet && check.arriving === 0 && !card.wasComplete ? check.missing : 0;
  const trouble = isQuiet ? check.trouble : null;
  if (check.altered + missing === 0 && trouble === null) return null;
  const isFootage = check.first.altered.some(({ path }) => cardFileRole(path) === 'footage');
  return {
    kind: 'list-differs',
    subject: subjectOf(card),
    severity: isFootage ? 'critical' : 'warning',
    message: messageOf(card, check, missing, trouble),
    figures: {
      ...{ listedFiles: check.files, intactFiles: check.intact, alteredFiles: check.altered, missingFiles: missing },
      ...{ renamedFiles: check.renamed, freshFiles: check.fresh, pendingFiles: check.pending },
    },
    remedies: trouble === null ? remediesOf(card, check, missing) : [LOOK],
  };
}

const LOOK: Remedy = {
  action: 'Copy the list again from the card, with all that lies beside it, and keep the card as it is',
  effect: 'what arrived is compared as soon as the list can be relied on',
};

function messageOf(
  { reconciliation: { inventory } }: CardAssessment,
  { altered, files, first }: ListCheck,
  missing: number,
  trouble: string | null,
): string {
  const title = cardTitle(inventory);
  if (trouble !== null) return `${title} cannot be relied on: ${trouble} Contents were not compared with it.`;
  const parts = [
    ...(altered === 0
      ? []
      : [
          `${shareOf(altered, files)} ${altered === 1 ? 'is' : 'are'} not as listed: ${alteredNames(first.altered, altered)}`,
        ]),
    ...(missing === 0
      ? []
      : [
          `${shareOf(missing, files)} ${missing === 1 ? 'is' : 'are'} not here: ${missingNames(first.missing, missing)}`,
        ]),
  ];
  return `${title}: ${parts.join('; ')}. Keep the card as it is.`;
}

function alteredNames(altered: readonly AlteredFile[], all: number): string {
  return namesAndMore(altered.map(alteredWords), all);
}

function missingNames(missing: ListCheck['first']['missing'], all: number): string {
  const named = missing.map(({ path, size }) => `${display(path)}${size === null ? '' : ` (${formatBytes(size)})`}`);
  return namesAndMore(named, all);
}

/** `2 of its 5 files`, `its only file`. */
function shareOf(count: number, of: number): string {
  return of === 1 ? 'its only file' : `${count} of its ${of} files`;
}

function remediesOf(
  { reconciliation: { inventory } }: CardAssessment,
  { altered, first }: ListCheck,
  missing: number,
): Remedy[] {
  const count = altered + missing;
  const these = count === 1 ? 'this file' : 'these files';
  const sizes = [...first.altered, ...first.missing].map(({ size }) => size);
  const known = sizes.length === count && sizes.every((size) => size !== null);
  const bytes = known ? `, ${formatBytes(sizes.reduce((sum, size) => sum + (size ?? 0), 0))}` : '';
  return [
    {
      action: `Copy exactly ${these} again from the card, and do not format the card before ${count === 1 ? 'it matches' : 'they match'}`,
      effect: `${formatCount(count, 'file')}${bytes}: what comes is read and compared with the list by itself`,
    },
    {
      action: `If ${count === 1 ? 'it was' : 'they were'} changed or left out on purpose, run: headroomd card --drop ${display(inventory.id)}`,
      effect: 'nothing of this list is waited for or compared any more; no file is touched',
    },
  ];
}
