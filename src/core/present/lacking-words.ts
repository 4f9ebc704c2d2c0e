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

/** `PRIVATE/AVCHD/00012.MTS (4.00 GB)`; of one of another size both sizes. Escaped. */
export function lackingWords({ file, found }: Pick<ReconciledFile, 'file' | 'found'>): string {
  const name = display(file.path);
  if (file.size === null) return name;
  const there = found === null ? '' : `, but ${formatBytes(found.size)} at ${display(found.path)}`;
  return `${name} (${formatBytes(file.size)}${there})`;
}

/** The first names, and how many more there are. */
export function namesAndMore(names: readonly string[], all = names.length): string {
  const shown = names.slice(0, MOST_NAMES);
  const more = all - shown.length;
  return more <= 0 ? shown.join(', ') : `${shown.join(', ')} and ${more} more`;
}
