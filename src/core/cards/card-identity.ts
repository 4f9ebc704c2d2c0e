import { cardFileRole } from './card-role.ts';
import type { InventoryFile } from './inventory.ts';

/** An inventory that was made of the same file system earlier. */
export interface EarlierReading {
  id: string;
  files: readonly InventoryFile[];
  /** It has been mounted without a break since: what grew was recorded on, nobody can have formatted it. */
  sameMount: boolean;
}

/**
 * What a reading of a card is:
 * - `grown`: an earlier inventory with more (or no less) on it; `gone` are footage files of it that were taken from the card
 *   since, by the camera or by a person who moved them;
 * - `part`: not even all of an earlier one, because the reading broke off: the earlier one says more;
 * - `new`: another content, on a card that was formatted perhaps, or one that was never read;
 * - `nothing`: no footage is on it.
 */
export type CardIdentity =
  | { is: 'grown'; id: string; gone: InventoryFile[] }
  | { is: 'part'; id: string }
  | { is: 'new' }
  | { is: 'nothing' };

/** `earlier`: inventories of the same file system, newest first. `whole`: the reading did not break off. */
export function identifyCard(
  files: readonly InventoryFile[],
  whole: boolean,
  earlier: readonly EarlierReading[],
): CardIdentity {
  const footage = footageOf(files);
  if (footage.length === 0) return { is: 'nothing' };
  const now = new Map(footage.map((file) => [file.path, file]));
  for (const { id, files: before, sameMount } of earlier) {
    const known = footageOf(before);
    if (known.every((file) => isSame(file, now.get(file.path), sameMount))) return { is: 'grown', id, gone: [] };
    if (!whole && isPart(footage, known)) return { is: 'part', id };
    const oldest = oldestOf(known);
    if (whole && oldest !== null && isSame(oldest, now.get(oldest.path), sameMount)) {
      return { is: 'grown', id, gone: known.filter(({ path }) => !now.has(path)) };
    }
  }
  return { is: 'new' };
}

/** The footage that was recorded first: a format removes it, recording on does not. `null`: there is no footage. */
export function oldestOf(files: readonly InventoryFile[]): InventoryFile | null {
  let oldest: InventoryFile | null = null;
  for (const file of footageOf(files)) {
    if (oldest === null || isBefore(file, oldest)) oldest = file;
  }
  return oldest;
}

function footageOf(files: readonly InventoryFile[]): InventoryFile[] {
  return files.filter(({ path }) => cardFileRole(path) === 'footage');
}

function isPart(footage: readonly InventoryFile[], known: readonly InventoryFile[]): boolean {
  const before = new Map(known.map((file) => [file.path, file]));
  return footage.every((file) => isSame(file, before.get(file.path), false));
}

/** A camera numbers its takes from the start again after a format: without size and time a name tells nothing. */
function isSame(before: InventoryFile, now: InventoryFile | undefined, mayGrow: boolean): boolean {
  if (now === undefined) return false;
  if (now.size === before.size && now.mtimeMs === before.mtimeMs) return true;
  return mayGrow && (now.size ?? 0) >= (before.size ?? 0) && (now.mtimeMs ?? 0) >= (before.mtimeMs ?? 0);
}

function isBefore(one: InventoryFile, other: InventoryFile): boolean {
  const [a, b] = [one.mtimeMs ?? 0, other.mtimeMs ?? 0];
  return a < b || (a === b && one.path < other.path);
}
