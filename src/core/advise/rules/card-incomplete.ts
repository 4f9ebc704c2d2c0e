import type { Assessment, CardAssessment } from '../../assess/assessment.ts';
import { lackingFiles } from '../../cards/reconcile.ts';
import type { FileVerdict, ReconciledFile } from '../../cards/reconciliation.ts';
import type { Severity } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { cardTitle, lackingWords, namesAndMore } from '../../present/lacking-words.ts';
import { formatBytes, formatCount } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import type { HoldReason, Rule, RuleResult } from './rule.ts';

/** A card that shakes in its reader leaves and comes back at once. Our choice. */
const GONE_FOR_MS = 5_000;

/** Nothing more is waited for. */
const HERE: ReadonlySet<FileVerdict> = new Set(['arrived', 'arrived-renamed']);

/** With a list on the card it is known what should come, as it is of a list that came along. */
const LISTED_QUIET_MS = 60_000;

const CAUTION = 'contents were not compared, keep the card until verified copies exist';
const LISTED_CAUTION = 'contents are compared with the list on the card, keep it until verified copies exist';

/**
 * Footage of a card, or of a manifest, is not here. Told when the card has left, or when its copy began and nothing more
 * comes. A card of which nothing has arrived may just be plugged in: that is no news before it leaves. What was wholly
 * here once may be deleted: that is no news either. A card that could not be read whole is told of when it leaves.
 */
export const cardIncomplete: Rule = {
  kind: 'card-incomplete',
  immediate: true,
  evaluate(assessment: Assessment): RuleResult {
    const held = new Map<string, HoldReason>();
    const findings: Finding[] = [];
    for (const card of assessment.cards) {
      // What lacks of a list whose contents are compared is told with what is altered.
      if (card.check !== null && card.check.trouble === null) continue;
      const hold = card.state === 'manifest' && card.check === null ? 'judged-again' : holdOf(card, assessment);
      if (hold !== null) held.set(subjectOf(card), hold);
      else findings.push(...findingsOf(card, assessment));
    }
    return { findings, holds: (subject) => held.get(subject) ?? null };
  },
};

/** Names may be given twice, ids not; a person needs the name. */
function subjectOf({ reconciliation: { inventory } }: CardAssessment): string {
  return `${inventory.name} (${inventory.id})`;
}

/** While a volume is read for the first time, nothing on it is missing; one that is away cannot be looked at. */
function holdOf(
  { reconciliation: { inventory, deliveries } }: CardAssessment,
  { volumes }: Assessment,
): HoldReason | null {
  const concerned = new Set([...deliveries.map(({ volume }) => volume), inventory.on?.volume]);
  const unknown = volumes.some(({ name, state }) => state === 'starting' || (state !== 'live' && concerned.has(name)));
  return unknown ? 'root-not-live' : null;
}

function findingsOf(card: CardAssessment, { at }: Assessment): Finding[] {
  const lacking = lackingFiles(card.reconciliation, card.state === 'gone').filter(({ role }) => role === 'footage');
  const isNews = lacking.length > 0 || leftWithGap(card);
  const severity = isNews && !card.wasComplete ? severityOf(card, at) : null;
  if (severity === null) return [];
  const footage = card.reconciliation.files.filter(({ role }) => role === 'footage').length;
  const bytes = bytesOf(lacking);
  return [
    {
      kind: 'card-incomplete',
      subject: subjectOf(card),
      severity,
      message: messageOf(card, lacking, footage),
      figures: { missingFiles: lacking.length, missingBytes: bytes, footageFiles: footage, state: card.state },
      remedies: remediesOf(card, lacking, footage),
    },
  ];
}

function severityOf(card: CardAssessment, at: number): Severity | null {
  if (card.state === 'gone') {
    if (card.goneSince !== null && at - card.goneSince < GONE_FOR_MS) return null;
    return hasBegun(card) || leftWithGap(card) ? 'warning' : 'notice';
  }
  const isQuiet = card.stalled || (hasList(card) && at - card.progress.since >= LISTED_QUIET_MS);
  return hasBegun(card) && isQuiet ? 'warning' : null;
}

function hasList({ lists }: CardAssessment): boolean {
  return lists.some(({ state }) => state === 'whole');
}

/** More may be on it than is known. */
function leftWithGap({ state, reconciliation: { inventory } }: CardAssessment): boolean {
  return state === 'gone' && inventory.gap !== null;
}

function hasBegun({ reconciliation: { files } }: CardAssessment): boolean {
  return files.some(({ role, verdict }) => role === 'footage' && verdict !== 'missing');
}

function messageOf(card: CardAssessment, lacking: readonly ReconciledFile[], footage: number): string {
  const { inventory } = card.reconciliation;
  const title = cardTitle(inventory);
  const unread = unreadWords(inventory.gap);
  if (lacking.length === 0) return `${title} was taken out.${unread} Keep the card, put it in again.`;
  const sizes = sizeOf(lacking);
  const what = `${shareOf(lacking.length, footage)} of footage${sizes === null ? '' : ` (${sizes})`}`;
  const names = namesAndMore(lacking.map(lackingWords));
  const [are, have] = lacking.length === 1 ? ['is', 'has'] : ['are', 'have'];
  const notHere = lacking.some(({ verdict }) => verdict === 'removed') ? `${are} not here` : `${have} not arrived`;
  if (card.state === 'manifest') {
    const base = display(inventory.on?.base || inventory.on?.volume || '');
    return `${title}: ${what} ${are} not below ${base} as listed: ${names}.${unread}`;
  }
  const how = card.state === 'gone' ? 'was taken out' : 'is in, but nothing more of it arrives';
  return `${title} ${how}: ${what} ${notHere}: ${names}.${unread} Keep the card as it is.`;
}

function unreadWords(gap: string | null): string {
  if (gap === null) return '';
  return ` It could not be read whole (${display(gap)}); what of it has not arrived cannot be said.`;
}

/** `2 of its 5 files`, `all 5 files`, `its only file`. */
function shareOf(count: number, of: number): string {
  if (of === 1) return 'its only file';
  return count === of ? `all ${of} files` : `${count} of its ${of} files`;
}

function remediesOf(card: CardAssessment, lacking: readonly ReconciledFile[], footage: number): Remedy[] {
  const {
    state,
    reconciliation: { inventory, files },
  } = card;
  if (lacking.length === 0) return gapRemedies(inventory.id);
  const these = lacking.length === 1 ? 'this file' : 'these files';
  const action = {
    gone: `Put the card in again and copy exactly ${these}`,
    mounted: `Copy exactly ${these} from the card`,
    manifest: `Copy exactly ${these} again from where they came`,
  }[state];
  const open = files.filter(({ role, verdict }) => role === 'footage' && !HERE.has(verdict)).length - lacking.length;
  const then =
    open > 0
      ? `then ${open} of ${footage} remain, arriving or refused`
      : `then all its footage${inventory.gap === null ? '' : ' that could be read'} is here (${formatCount(footage, 'file')}), by name and size; ${hasList(card) ? LISTED_CAUTION : CAUTION}`;
  const sizes = sizeOf(lacking);
  return [
    { action, effect: `${formatCount(lacking.length, 'file')}${sizes === null ? '' : `, ${sizes}`}: ${then}` },
    {
      action: `If ${these === 'this file' ? 'it is' : 'they are'} not wanted, run: headroomd card --drop ${display(inventory.id)}`,
      effect: 'nothing of it is waited for any more; no file is touched',
    },
  ];
}

function gapRemedies(id: string): Remedy[] {
  return [
    { action: 'Put the card in again', effect: 'it is read anew; read whole, what of it is not here can be said' },
    {
      action: `If nothing more of it is wanted, run: headroomd card --drop ${display(id)}`,
      effect: 'nothing of it is waited for any more; no file is touched',
    },
  ];
}

/** `null` where a list gives no sizes. */
function sizeOf(files: readonly ReconciledFile[]): string | null {
  return files.some(({ file }) => file.size === null) ? null : formatBytes(bytesOf(files));
}

function bytesOf(files: readonly ReconciledFile[]): number {
  return files.reduce((sum, { file }) => sum + (file.size ?? 0), 0);
}
