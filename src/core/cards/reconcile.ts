import { joinPath } from '../intake/path-text.ts';
import type { Instant, PathText } from '../model.ts';
import { candidateKey, fold, order, roleOf, type Side } from './claim-board.ts';
import type { Candidate, Inventory, InventoryFile } from './inventory.ts';
import type { Claim, Place, Progress, ReconciledFile, Reconciliation } from './reconciliation.ts';
import { type Found, reconciliationOf } from './reconciliation-sums.ts';
import { finish, type Steps } from './steps.ts';
import { takeAll } from './take-copies.ts';
import { placesOnWays, type Way, waysOf } from './ways.ts';

/**
 * Sets inventories beside what has arrived. All that are kept are handed in at once: a file on a volume is the copy of
 * one card's file at most, and where two cards claim it, the delivery that matches more of its card has it. (Inventories
 * of the same card, and manifests, may speak of the same copies.) The result is in the order of the claims and does not
 * depend on it. `found`: the answers to `expectedPlaces`, in any order; without them nothing is `differs` or `arriving`
 * with a smaller size, and manifests know nothing but their candidates.
 */
export function reconcileAll(claims: readonly Claim[], found: readonly Candidate[] = []): Reconciliation[] {
  return finish(reconcileInSteps(claims, found));
}

/** `reconcileAll` in steps of a few milliseconds: 12,000 frames take some hundred. */
export function* reconcileInSteps(claims: readonly Claim[], found: readonly Candidate[]): Steps<Reconciliation[]> {
  const taken = yield* takeAll(claims, found);
  const sides = new Map(taken.map((side) => [side.inventory, side]));
  const known = placesOf(found);
  const reconciliations: Reconciliation[] = [];
  for (const claim of claims) {
    const side = sides.get(claim.inventory);
    const files = side === undefined ? ofManifest(claim, found) : ofCard(claim.inventory, side, known);
    yield;
    reconciliations.push(reconciliationOf(claim, files));
    yield;
  }
  return reconciliations;
}

/** `reconcileAll` of one. */
export function reconcile(
  inventory: Inventory,
  candidates: readonly (readonly Candidate[])[],
  found: readonly Candidate[] = [],
): Reconciliation {
  const [only] = reconcileAll([{ inventory, candidates }], found);
  if (only === undefined) throw new RangeError('one claim gives one reconciliation');
  return only;
}

/**
 * The places on volumes where files that no candidate covers should lie: those of a manifest all, those of a card below
 * the folders where the rest of it was found. Ask the catalogue for the files at these paths (any state, any size) and
 * hand what it knows to `reconcileAll`.
 */
export function expectedPlaces(claims: readonly Claim[]): Place[] {
  return finish(expectedPlacesInSteps(claims));
}

/** `expectedPlaces` in steps of a few milliseconds. */
export function* expectedPlacesInSteps(claims: readonly Claim[]): Steps<Place[]> {
  const sides = yield* takeAll(claims, []);
  const ofCards = sides.flatMap(({ slots }) => {
    const ways = waysOf(slots);
    return slots.filter(({ taken }) => taken === null).flatMap(({ file }) => placesOnWays(file.path, ways));
  });
  const ofManifests = claims.flatMap(({ inventory: { on, files } }) =>
    on === null ? [] : files.map(({ path }) => ({ volume: on.volume, path: joinPath(on.base, path) })),
  );
  const unique = new Map([...ofCards, ...ofManifests].map((place) => [`${place.volume}\0${place.path}`, place]));
  return [...unique.values()];
}

/** Keeps `since` while nothing more has arrived. `previous` is `null` at first. */
export function stepProgress(previous: Progress | null, { files }: Reconciliation, now: Instant): Progress {
  const come = files.filter((file) => hasArrived(file) || file.verdict === 'removed').length;
  const coming = files.filter(({ verdict }) => verdict === 'arriving' || verdict === 'refused');
  const bytes = coming.reduce((sum, { found }) => sum + (found?.size ?? 0), 0);
  const mark = `${come} ${coming.length} ${bytes}`;
  return previous?.mark === mark ? { mark, since: Math.min(previous.since, now) } : { mark, since: now };
}

/** The paths that have arrived: keep them, and hand them in as `Claim.before`. */
export function arrivedPaths({ files }: Reconciliation): PathText[] {
  return files.filter((file) => hasArrived(file) || file.verdict === 'removed').map(({ file }) => file.path);
}

/**
 * Whether all footage of it is here now, by name and size. Never of an inventory with a gap: what could not be read of a
 * card may be footage.
 */
export function isComplete({ inventory, files }: Reconciliation): boolean {
  return inventory.gap === null && files.every((file) => file.role !== 'footage' || hasArrived(file));
}

/**
 * The files that cannot be called here or on their way: missing, removed, or of another size. When the card is `gone`,
 * those too whose copy is shorter than the file was: no more will come. Footage first, then companions, each by path; no
 * housekeeping.
 */
export function lackingFiles({ files }: Reconciliation, gone: boolean): ReconciledFile[] {
  const lacking = files.filter(
    ({ file, verdict, found }) =>
      verdict === 'missing' ||
      verdict === 'removed' ||
      verdict === 'differs' ||
      (gone && verdict === 'arriving' && found !== null && found.size < (file.size ?? 0)),
  );
  const ofRole = (wanted: ReconciledFile['role']) =>
    lacking.filter(({ role }) => role === wanted).sort((one, other) => order(one.file.path, other.file.path));
  return [...ofRole('footage'), ...ofRole('companion')];
}

function hasArrived({ verdict }: ReconciledFile): boolean {
  return verdict === 'arrived' || verdict === 'arrived-renamed';
}

function placesOf(candidates: readonly Candidate[]): Map<string, Candidate> {
  return new Map(candidates.map((candidate) => [candidateKey(candidate), candidate]));
}

/** What was taken; otherwise what lies at the place where the file should be. */
function ofCard(inventory: Inventory, { slots }: Side, known: ReadonlyMap<string, Candidate>): Found[] {
  const ways = waysOf(slots);
  const bySlot = new Map<InventoryFile, Found>();
  for (const { file, role, taken } of slots) {
    if (taken !== null) {
      const { copy, renamed, base } = taken;
      bySlot.set(file, { file, role, candidate: copy.candidate, renamed, folder: base });
    } else bySlot.set(file, { file, role, renamed: false, ...atItsPlace(file, ways, known) });
  }
  return inventory.files.flatMap((file) => bySlot.get(file) ?? []);
}

function atItsPlace(file: InventoryFile, ways: readonly Way[], known: ReadonlyMap<string, Candidate>) {
  for (const way of ways) {
    const [place] = placesOnWays(file.path, [way]);
    const candidate = place === undefined ? undefined : known.get(`${place.volume}\0${place.path}`);
    // One of the right size lies there for another file: it was taken, or was not believed.
    if (candidate !== undefined && candidate.size !== file.size) return { candidate, folder: way.base };
  }
  return { candidate: null, folder: null };
}

/** A manifest's paths begin at a known folder: what lies there is meant, and nothing else. */
function ofManifest({ inventory, candidates }: Claim, found: readonly Candidate[]): Found[] {
  const on = inventory.on ?? { volume: '', base: '' };
  const all = [...found, ...candidates.flat()].filter(({ volume }) => volume === on.volume);
  const exact = new Map(all.map((candidate) => [candidate.path, candidate]));
  const folded = new Map(all.map((candidate) => [fold(candidate.path), candidate]));
  return inventory.files.map((file) => {
    const path = joinPath(on.base, file.path);
    const candidate = exact.get(path) ?? folded.get(fold(path)) ?? null;
    return { file, role: roleOf(file), candidate, renamed: false, folder: candidate && on.base };
  });
}
