import type { Inventory } from '../cards/inventory.ts';
import type { ReconciledFile } from '../cards/reconciliation.ts';
import { formatBytes } from '../units.ts';
import { display } from './escape.ts';

/** More names than this are no help in a sentence; the page and `status --json` have them. */
const MOST_NAMES = 5;

/** `Card SM-A01 (AVCHD)`, `List "Day 3" (Saltmarsh/Day 3/day3.mhl on stripe)`. Escaped. */
export function cardTitle({ source, name, layout, place, on }: Inventory): string {
  if (source === 'card') return `Card ${display(name)}${layout === null ? '' : ` (${display(layout)})`}`;
  return `List ${display(place)}${on === null ? '' : ` on ${display(on.volume)}`}`;
}

/** Of what is `removed`. */
export const NO_LONGER_HERE = 'had arrived and is no longer here';

/** `PRIVATE/AVCHD/00012.MTS (4.00 GB)`; of one of another size both sizes. Escaped. */
export function lackingWords({ file, found, verdict }: Pick<ReconciledFile, 'file' | 'found' | 'verdict'>): string {
  const size = file.size === null ? [] : [formatBytes(file.size)];
  const there =
    found === null || file.size === null ? [] : [`but ${formatBytes(found.size)} at ${display(found.path)}`];
  const told = [...size, ...there, ...(verdict === 'removed' ? [NO_LONGER_HERE] : [])];
  return `${display(file.path)}${told.length === 0 ? '' : ` (${told.join(', ')})`}`;
}

/** The first names, and how many more there are. */
export function namesAndMore(names: readonly string[], all = names.length): string {
  const shown = names.slice(0, MOST_NAMES);
  const more = all - shown.length;
  return more <= 0 ? shown.join(', ') : `${shown.join(', ')} and ${more} more`;
}
