import type { Assessment } from '../../assess/assessment.ts';
import type { ShelfFindings } from '../../backup/backup-view.ts';
import { display } from '../../present/escape.ts';
import { badSnapshot } from '../../present/snapshot-verify.ts';
import { elsewhereWords, SOURCE_WORDS } from '../../present/verify-words.ts';
import { formatCount } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { type Rule, type RuleResult, resultOf } from './rule.ts';

/** A copy that is no longer what was written, or an original that is no longer what was copied. Neither file is touched. */
export const copyDiffers: Rule = {
  kind: 'copy-differs',
  immediate: true,
  evaluate: ({ backups }: Assessment): RuleResult =>
    resultOf(
      backups.findings.map((found) => [`${found.volume}/${found.shelf}`, differsOf(found)] as const),
      // Right after a start the ledger was not asked yet.
      () => backups.findings.length === 0 && backups.shelves.length > 0,
    ),
};

function differsOf(found: ShelfFindings): Finding | null {
  const { bad, badFiles, altered, volume, shelf } = found;
  if (bad.length + altered.length === 0) return null;
  return {
    kind: 'copy-differs',
    subject: `${volume}/${shelf}`,
    severity: 'critical',
    message: `${[...badWords(found), ...alteredWords(found)].join('. ')}. Nothing was touched: look which one is right, and keep the cards.`,
    figures: { bad: badFiles, altered: altered.length },
    remedies: [
      {
        action: `Compare both files, keep the good one, then run "headroomd backup now ${display(shelf)}"`,
        effect: 'both are read again',
      },
    ],
  };
}

function badWords({ bad, badFiles, volume, shelf }: ShelfFindings): string[] {
  const [first] = bad;
  if (first === undefined) return [];
  const { path, state, source, sourceIs, elsewhere } = badSnapshot(first);
  const how = state === 'unread' ? 'it cannot be read' : 'its content changed';
  const many = `${formatCount(badFiles, 'copy', 'copies')} on ${display(shelf)} ${badFiles === 1 ? 'is' : 'are'} not what was written, first ${path} (${how})`;
  const other = elsewhereWords(elsewhere).replace(/\.$/, '');
  return [many, `${SOURCE_WORDS[sourceIs]} (${display(volume)}: ${source})`, other];
}

function alteredWords({ altered, volume, shelf }: ShelfFindings): string[] {
  if (altered.length === 0) return [];
  const many = `${formatCount(altered.length, 'recording')} on ${display(volume)} ${altered.length === 1 ? 'is' : 'are'} not what was copied before, first ${display(altered[0] ?? '')}`;
  return [many, `The first copy stays on ${display(shelf)} as it is; the other was copied beside it`];
}
