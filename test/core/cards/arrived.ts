import type { Candidate, Inventory, InventoryFile } from '../../../src/core/cards/inventory.ts';
import { expectedPlaces, reconcileAll } from '../../../src/core/cards/reconcile.ts';
import type { Claim, FileVerdict, Reconciliation } from '../../../src/core/cards/reconciliation.ts';
import { baseName } from '../../../src/core/intake/path-text.ts';
import { NOON, SECOND } from '../samples.ts';

export const HOUR = 3600 * SECOND;
export const MB = 1e6;

/** A file of a card, recorded some hours before noon. */
export function fileOf(path: string, size: number, mtimeMs: number | null = NOON - 3 * HOUR): InventoryFile {
  return { path, size, mtimeMs };
}

export function cardOf(id: string, files: InventoryFile[], over: Partial<Inventory> = {}): Inventory {
  const name = over.name ?? id;
  return {
    id,
    source: 'card',
    name,
    layout: 'DCIM',
    place: `/media/${name}`,
    on: null,
    takenAt: NOON,
    gap: null,
    files,
    ...over,
  };
}

export function manifestOf(id: string, base: string, files: InventoryFile[]): Inventory {
  const place = `${base}/${id}.mhl`;
  return cardOf(id, files, { source: 'manifest', layout: null, place, on: { volume: 'stripe', base } });
}

/** A file on `stripe`; as a copy that kept its time where `mtimeMs` says so. */
export function copyOf(path: string, size: number, over: Partial<Candidate> = {}): Candidate {
  return { volume: 'stripe', path, size, mtimeMs: NOON + HOUR, state: 'ready', ...over };
}

/** All files of a card, copied below a folder; times are kept. */
export function copiesOf(card: Inventory, folder: string, over: Partial<Candidate> = {}): Candidate[] {
  return card.files.map(({ path, size, mtimeMs }) =>
    copyOf(`${folder}/${path}`, size ?? 0, { mtimeMs: mtimeMs ?? NOON, ...over }),
  );
}

/** What the catalogue's contract says of candidates, over a plain list. */
function candidatesAmong(files: readonly InventoryFile[], known: readonly Candidate[], most = 20): Candidate[][] {
  const nameOf = (path: string) => baseName(path).toLowerCase();
  return files.map((file) => {
    const sized = known.filter(({ size }) => file.size === null || size === file.size);
    const named = sized.filter(({ path }) => nameOf(path) === nameOf(file.path));
    if (named.length > 0 || file.size === null) return named.slice(0, most);
    const timed = sized.filter(({ mtimeMs }) => Math.abs(mtimeMs - (file.mtimeMs ?? Number.NaN)) <= 2 * SECOND);
    return timed.slice(0, most);
  });
}

export function claimOf(inventory: Inventory, known: readonly Candidate[], most = 20): Claim {
  return { inventory, candidates: candidatesAmong(inventory.files, known, most) };
}

/** Both steps, as the daemon takes them: candidates, then what lies at the expected places. */
export function reconcileAgainst(inventories: Inventory[], known: readonly Candidate[], most = 20): Reconciliation[] {
  const claims = inventories.map((inventory) => claimOf(inventory, known, most));
  const places = new Set(expectedPlaces(claims).map(({ volume, path }) => `${volume}/${path}`));
  const found = known.filter(({ volume, path }) => places.has(`${volume}/${path}`));
  return reconcileAll(claims, found);
}

/** `path: verdict` of every file. */
export function verdictsOf(reconciliation: Reconciliation | undefined): Record<string, FileVerdict> {
  return Object.fromEntries((reconciliation?.files ?? []).map(({ file, verdict }) => [file.path, verdict]));
}

/** How many files have each verdict that any has. */
export function countsOf(reconciliation: Reconciliation | undefined): Partial<Record<FileVerdict, number>> {
  const counts: Partial<Record<FileVerdict, number>> = {};
  for (const { verdict } of reconciliation?.files ?? []) counts[verdict] = (counts[verdict] ?? 0) + 1;
  return counts;
}
