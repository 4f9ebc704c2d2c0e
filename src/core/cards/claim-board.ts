import { baseName } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';
import { type CardFileRole, cardFileRole } from './card-role.ts';
import type { Candidate, Inventory, InventoryFile } from './inventory.ts';
import type { Claim } from './reconciliation.ts';
import { mapped, type Steps } from './steps.ts';

/** Below this many bytes the same size is no evidence: sidecars of one length are everywhere. */
const TELLING_BYTES = 1_048_576;

/** A file of an inventory and what was taken as its copy. */
export interface Slot {
  file: InventoryFile;
  role: CardFileRole;
  /** Footage of a size that no other footage of the inventory has: name and size together mean this take. */
  telling: boolean;
  copies: readonly Copy[];
  taken: Taken | null;
}

export interface Taken {
  copy: Copy;
  renamed: boolean;
  /** Folder on the volume, and on the card: below them the paths of the two are the same. */
  base: PathText;
  prefix: PathText;
}

/** One inventory of a card with its slots in the order of paths, so that nothing depends on the order it came in. */
export interface Side {
  inventory: Inventory;
  slots: readonly Slot[];
  footage: number;
  /** Inventories of the same card have the same one: they may speak of the same copies. */
  card: number;
}

/** A candidate, the same object wherever it is one, and whose copy it was taken as. */
export interface Copy {
  candidate: Candidate;
  folded: string;
  /** One copy stands for one file of one card. */
  use: { card: number; sides: Set<Side> } | null;
}

const ASCII = /^[ -~]*$/;

/** Names compare as the file systems of cards compare them. */
export function fold(path: PathText): string {
  return (ASCII.test(path) ? path : path.normalize('NFC')).toLowerCase();
}

export function candidateKey({ volume, path }: Candidate): string {
  return `${volume}\0${path}`;
}

export function isFree({ use }: Copy, side: Side): boolean {
  return use === null || (use.card === side.card && !use.sides.has(side));
}

export function take(copy: Copy, side: Side): void {
  copy.use ??= { card: side.card, sides: new Set() };
  copy.use.sides.add(side);
}

/** The cards' claims by id, each with what may be its copies: the candidates, and of `found` what has name and size. */
export function* sidesOf(claims: readonly Claim[], found: readonly Candidate[]): Steps<Side[]> {
  const cards = claims
    .filter(({ inventory }) => inventory.source === 'card')
    .toSorted((one, other) => order(one.inventory.id, other.inventory.id));
  const groups = cardGroups(cards.map(({ inventory }) => inventory));
  const copies = new Copies();
  const byName = Map.groupBy(found, ({ path }) => fold(baseName(path)));
  const sides: Side[] = [];
  for (const [index, claim] of cards.entries()) {
    const slots = yield* slotsOf(claim, byName, copies);
    const footage = slots.filter(({ role }) => role === 'footage').length;
    sides.push({ inventory: claim.inventory, slots, footage, card: groups[index] ?? index });
  }
  return sides;
}

/** Hands out one `Copy` per place. */
class Copies {
  readonly #volumes = new Map<string, Map<PathText, Copy>>();

  of(candidate: Candidate): Copy {
    const volume = this.#volumes.get(candidate.volume) ?? new Map<PathText, Copy>();
    this.#volumes.set(candidate.volume, volume);
    const copy = volume.get(candidate.path) ?? { candidate, folded: fold(candidate.path), use: null };
    volume.set(candidate.path, copy);
    return copy;
  }
}

function* slotsOf(
  { inventory, candidates }: Claim,
  found: ReadonlyMap<string, Candidate[]>,
  copies: Copies,
): Steps<Slot[]> {
  const roles = yield* mapped(inventory.files, roleOf);
  const sizes = new Map<number, number>();
  for (const [index, { size }] of inventory.files.entries()) {
    if (size !== null && roles[index] === 'footage') sizes.set(size, (sizes.get(size) ?? 0) + 1);
  }
  const slots = yield* mapped(inventory.files, (file, index): Slot => {
    const role = roles[index] ?? 'footage';
    const size = file.size ?? 0;
    const telling = role === 'footage' && size >= TELLING_BYTES && sizes.get(size) === 1;
    const more = found.size === 0 ? [] : (found.get(fold(baseName(file.path))) ?? []);
    const fitting = [...(candidates[index] ?? []), ...more].filter(
      (one) => file.size === null || one.size === file.size,
    );
    const own = new Set(fitting.map((candidate) => copies.of(candidate)));
    return { file, role, telling, copies: [...own], taken: null };
  });
  return slots.sort((one, other) => order(one.file.path, other.file.path));
}

/** An inventory stays the same from pass to pass. */
const knownRoles = new WeakMap<InventoryFile, CardFileRole>();

export function roleOf(file: InventoryFile): CardFileRole {
  const role = knownRoles.get(file) ?? cardFileRole(file.path);
  knownRoles.set(file, role);
  return role;
}

/** For each inventory the number of its card: the same for those that are of one card. */
function cardGroups(inventories: readonly Inventory[]): number[] {
  const group = inventories.map((_, index) => index);
  for (const [index, one] of inventories.entries()) {
    for (let earlier = 0; earlier < index; earlier++) {
      const other = inventories[earlier];
      const [from, to] = [group[index] ?? index, group[earlier] ?? earlier];
      if (other === undefined || from === to || !isSameCard(one, other)) continue;
      for (const [at, number] of group.entries()) if (number === from) group[at] = to;
    }
  }
  return group;
}

/** One name and layout, and half of the smaller one's files in both, to the millisecond: read twice with work in between. */
function isSameCard(one: Inventory, other: Inventory): boolean {
  if (one.name !== other.name || one.layout !== other.layout) return false;
  const [less, more] = one.files.length <= other.files.length ? [one, other] : [other, one];
  const known = new Set(more.files.map(fileKey));
  const both = less.files.filter((file) => file.mtimeMs !== null && known.has(fileKey(file))).length;
  return both > 0 && both * 2 >= less.files.length;
}

function fileKey({ path, size, mtimeMs }: InventoryFile): string {
  return `${path}\0${size}\0${mtimeMs}`;
}

export function order(one: string, other: string): number {
  return one < other ? -1 : one > other ? 1 : 0;
}
