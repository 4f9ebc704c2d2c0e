import type { CardAssessment, ListOnCardAssessment } from '../../assess/assessment.ts';
import type { CardListCheck } from '../../cards/card-list-check.ts';
import { cardFileRole } from '../../cards/card-role.ts';
import { dirName } from '../../intake/path-text.ts';
import { display } from '../../present/escape.ts';
import { namesAndMore } from '../../present/lacking-words.ts';
import { alteredWords } from '../../present/list-check.ts';
import { formatBytes, formatCount } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';

/** What is told of a list on a card; nothing of it was told elsewhere. */
export interface TellOfList {
  altered: number;
  notOnCard: number;
  trouble: string | null;
}

/** Names may be given twice, ids not; a person needs the name. */
export function subjectOfList(
  { reconciliation: { inventory } }: CardAssessment,
  { place }: ListOnCardAssessment,
): string {
  return `${inventory.name}/${place} (${inventory.id})`;
}

/**
 * What arrived of a card is not what a list on the card says. What of the card has not arrived at all is told of the card.
 * `null`: nothing is to be told.
 */
export function listOnCardFinding(card: CardAssessment, list: ListOnCardAssessment, tell: TellOfList): Finding | null {
  const { altered, notOnCard, trouble } = tell;
  if (altered + notOnCard === 0 && trouble === null) return null;
  const { check } = list;
  const isFootage = altered > 0 && check?.first.altered.some(({ path }) => cardFileRole(path) === 'footage') === true;
  return {
    kind: 'list-differs',
    subject: subjectOfList(card, list),
    severity: isFootage ? 'critical' : 'warning',
    message: messageOf(card, list, tell),
    figures: {
      ...{ listedFiles: list.listed, intactFiles: check?.intact ?? 0, alteredFiles: altered },
      ...{ missingFiles: check?.missing ?? 0, notOnCardFiles: notOnCard, pendingFiles: check?.pending ?? 0 },
    },
    remedies: remediesOf(card, check, tell),
  };
}

function messageOf(
  { reconciliation: { inventory } }: CardAssessment,
  { place, check, listed }: ListOnCardAssessment,
  { altered, notOnCard, trouble }: TellOfList,
): string {
  const title = `List ${display(place)} on card ${display(inventory.name)}`;
  if (trouble !== null) return `${title} cannot be relied on: ${display(trouble)} Contents were not compared with it.`;
  const share = (count: number) => (listed === 1 ? 'its only file' : `${count} of its ${listed} files`);
  const [are, do_] = [altered === 1 ? 'is' : 'are', notOnCard === 1 ? 'does' : 'do'];
  const parts = [
    ...(altered === 0
      ? []
      : [
          `${share(altered)} ${are} not as listed: ${namesAndMore((check?.first.altered ?? []).map(alteredWords), altered)}`,
        ]),
    ...(notOnCard === 0
      ? []
      : [
          `${share(notOnCard)} ${notOnCard === 1 ? 'was' : 'were'} not on the card when it was read, and ${do_} not lie with the rest of it: ${namesAndMore((check?.firstNotOnCard ?? []).map(display), notOnCard)}`,
        ]),
  ];
  return `${title}: ${parts.join('; ')}. Keep the card as it is.`;
}

function remediesOf(
  { state, reconciliation: { inventory } }: CardAssessment,
  check: CardListCheck | null,
  { altered, notOnCard, trouble }: TellOfList,
): Remedy[] {
  const put = state === 'gone' ? 'Put the card in again and copy' : 'Copy';
  const again: Remedy = {
    action: `${put} exactly ${altered === 1 ? 'this file' : 'these files'} again from the card, and do not format the card before ${altered === 1 ? 'it matches' : 'they match'}`,
    effect: `${formatCount(altered, 'file')}${bytesOf(check, altered)}: what comes is read and compared with the list by itself`,
  };
  const look: Remedy = {
    action: 'Record nothing on the card, and ask who had it since its list was written',
    effect: 'what was deleted on a card can often be brought back while nothing new lies over it',
  };
  const keep: Remedy = {
    action: 'Keep the card as it is, and ask for the list again from whoever made it',
    effect: 'a list that lies on the card, or comes with the footage, is compared by itself',
  };
  return [
    ...(altered > 0 ? [again] : []),
    ...(notOnCard > 0 ? [look] : []),
    ...(trouble === null ? [] : [keep]),
    {
      action: `If this is as it should be, run: headroomd card --drop ${display(inventory.id)}`,
      effect: 'nothing of this card or its lists is waited for or compared any more; no file is touched',
    },
  ];
}

function bytesOf(check: CardListCheck | null, altered: number): string {
  const files = check?.first.altered ?? [];
  return files.length === altered ? `, ${formatBytes(files.reduce((sum, { size }) => sum + size, 0))}` : '';
}

/** Whether a list on the card came along with it as this list. */
export function cameAlong(
  { reconciliation }: CardAssessment,
  { place }: ListOnCardAssessment,
  { reconciliation: { inventory } }: CardAssessment,
): boolean {
  const { on } = inventory;
  if (on === null) return false;
  return reconciliation.files.some(({ file, found }) => {
    const isOfList = file.path === place || dirName(file.path) === place;
    if (!isOfList || found === null || found.volume !== on.volume) return false;
    return inventory.place === found.path || inventory.place === dirName(found.path);
  });
}
