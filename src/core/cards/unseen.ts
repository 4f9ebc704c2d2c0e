import { dirName } from '../intake/path-text.ts';
import type { CopiedCard } from './card-signs.ts';
import type { CopyTally } from './copy-tally.ts';
import type { Reconciliation } from './reconciliation.ts';

/**
 * A copied card on a volume of which no card was seen and no manifest is there: whether it is whole cannot be said. Without
 * layout it is a folder that footage was copied into: of how many cards, nothing tells.
 */
export interface UnseenDelivery extends Omit<CopiedCard, 'layout'> {
  volume: string;
  layout: string | null;
  /** Verified copies of what lies in it; none where they were not looked up. */
  copies?: CopyTally | null;
}

/**
 * Those of the copied cards (`copiedCardOf` of what arrived, each folder once) below which no inventory has found any of
 * its files.
 */
export function unseenDeliveries(
  copied: readonly UnseenDelivery[],
  reconciliations: readonly Reconciliation[],
): UnseenDelivery[] {
  const seen = new Set<string>();
  for (const { found } of reconciliations.flatMap(({ files }) => files)) {
    if (found === null) continue;
    let folder = found.path;
    do {
      folder = dirName(folder);
      const key = `${found.volume}\0${folder}`;
      if (seen.has(key)) break;
      seen.add(key);
    } while (folder !== '');
  }
  return copied.filter(({ volume, root }) => !seen.has(`${volume}\0${root}`));
}
