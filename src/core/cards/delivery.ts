import type { PathText } from '../model.ts';
import { type TimeRelation, timeRelation } from './card-time.ts';
import { type Copy, fold, isFree, order, type Side, type Slot } from './claim-board.ts';
import { mapped, type Steps } from './steps.ts';

/** A file of a card and one file on a volume that has its name and size. */
export interface Match {
  slot: Slot;
  copy: Copy;
  time: TimeRelation;
  /** So many names at the end of both paths are the same; `whole`: all of the card's path. */
  tail: number;
  whole: boolean;
  base: PathText;
  prefix: PathText;
}

/** A folder on a volume below which files of one card have the places they had on the card, or lie flat. */
export interface Site {
  side: Side;
  volume: string;
  base: PathText;
  /** Those that can be believed, the most convincing first. */
  matches: readonly Match[];
}

/** So many files of footage at matching places are no coincidence, whatever their times. Our choice. */
const FEW = 3;
/** Share of a card's footage that must match by telling sizes before older times are put down to the camera's clock. */
const CLOCK_SHARE = 0.1;

/** All folders where files of one card may have arrived. */
export function* sitesOf(side: Side): Steps<Site[]> {
  const matches = (yield* mapped(side.slots, (slot) => matchesOf(slot, side))).flat();
  const groups = Map.groupBy(matches, ({ copy, base }) => `${copy.candidate.volume}\0${base}`);
  const sites: Site[] = [];
  for (const group of groups.values()) {
    const [first] = group;
    const believed = believe(group, side).sort(byPlace);
    if (first === undefined || believed.length === 0) continue;
    sites.push({ side, volume: first.copy.candidate.volume, base: first.base, matches: believed });
    yield;
  }
  return sites;
}

/** What a site can still give: one copy for one file, to files without a copy and to those whose copy is not ready. */
export function openMatches({ side, matches }: Site): Match[] {
  const slots = new Set<Slot>();
  const copies = new Set<Copy>();
  return matches.filter(({ slot, copy }) => {
    const open = isBetter(copy, slot) && !slots.has(slot) && !copies.has(copy) && isFree(copy, side);
    if (open) {
      slots.add(slot);
      copies.add(copy);
    }
    return open;
  });
}

function isBetter({ candidate }: Copy, { taken }: Slot): boolean {
  return taken === null || (taken.copy.candidate.state !== 'ready' && candidate.state === 'ready');
}

/** How much speaks for a site, most important first: footage (more when times agree or copies are ready), the rest, places. */
export function weightOf(matches: readonly Match[]): readonly [number, number, number] {
  let [footage, others, tails] = [0, 0, 0];
  for (const { slot, copy, time, tail } of matches) {
    if (slot.role === 'footage') footage += 2 + Number(time === 'same') + Number(copy.candidate.state === 'ready');
    else others += 1 + Number(time === 'same');
    tails += tail;
  }
  return [footage, others, tails];
}

function matchesOf(slot: Slot, side: Side): Match[] {
  const { path } = slot.file;
  const folded = fold(path);
  const depth = path.split('/').length;
  const matches: Match[] = [];
  for (const copy of slot.copies) {
    const tail = commonNames(folded, copy.folded);
    if (tail === 0) continue;
    const time = timeRelation(slot.file, copy.candidate, side.inventory);
    const base = withoutNames(copy.candidate.path, tail);
    matches.push({ slot, copy, time, tail, whole: tail === depth, base, prefix: withoutNames(path, tail) });
  }
  return matches;
}

/** So many whole names are the same at the end of two paths. */
function commonNames(one: string, other: string): number {
  let [at, there, names] = [one.length - 1, other.length - 1, 0];
  while (at >= 0 && there >= 0 && one[at] === other[there]) {
    if (one[at] === '/') names += 1;
    at -= 1;
    there -= 1;
  }
  const bothBegin = (at < 0 || one[at] === '/') && (there < 0 || other[there] === '/');
  return bothBegin ? names + 1 : names;
}

function withoutNames(path: PathText, names: number): PathText {
  let end = path.length;
  for (let left = names; left > 0; left--) {
    if (end <= 0) return '';
    end = path.lastIndexOf('/', end - 1);
  }
  return path.slice(0, Math.max(0, end));
}

/**
 * Which of a site's matches count. A name and a size may come from another card: frames of one size, sidecars, a card that
 * was filled anew under the same names. So a match needs more: the same time; or a telling size; or a site that has others
 * like it. What was written before the card's own file was counts only where so many telling sizes agree that the camera's
 * clock must be wrong.
 */
function believe(matches: readonly Match[], side: Side): Match[] {
  const earlier = matches.filter(({ time }) => time === 'earlier');
  const telling = matches.filter(({ slot }) => slot.telling);
  const clockIsWrong = telling.length >= Math.max(FEW, side.footage * CLOCK_SHARE);
  const mostlyEarlier = earlier.length * 2 > matches.length;
  const anchored = isAnchored(matches, side);
  return matches.filter(({ slot, time }) => {
    if (time === 'same') return true;
    if (time === 'earlier' || mostlyEarlier) return slot.telling && clockIsWrong;
    return slot.telling || anchored;
  });
}

function isAnchored(matches: readonly Match[], side: Side): boolean {
  const plausible = matches.filter(({ time }) => time !== 'earlier');
  if (plausible.some(({ slot, time }) => time === 'same' || slot.telling)) return true;
  const placed = plausible.filter(({ slot, tail, whole }) => slot.role === 'footage' && (tail > 1 || whole));
  if (new Set(placed.map(({ slot }) => slot)).size >= FEW) return true;
  const footage = new Set(plausible.map(({ slot }) => slot).filter(({ role }) => role === 'footage'));
  return footage.size > 0 && footage.size === side.footage;
}

function byPlace(one: Match, other: Match): number {
  return (
    Number(other.whole) - Number(one.whole) ||
    Number(other.time === 'same') - Number(one.time === 'same') ||
    other.tail - one.tail ||
    order(one.slot.file.path, other.slot.file.path) ||
    order(one.copy.candidate.path, other.copy.candidate.path)
  );
}
