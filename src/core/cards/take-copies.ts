import { order, type Side, sidesOf, take } from './claim-board.ts';
import { type Match, openMatches, type Site, sitesOf, weightOf } from './delivery.ts';
import type { Candidate } from './inventory.ts';
import type { Claim } from './reconciliation.ts';
import { takeRenamed } from './renamed.ts';
import type { Steps } from './steps.ts';

/** Gives every card's files their copies: by name, the site that has most first, then under other names. */
export function* takeAll(claims: readonly Claim[], found: readonly Candidate[]): Steps<Side[]> {
  const sides = yield* sidesOf(claims, found);
  const sites: Site[] = [];
  for (const side of sides) sites.push(...(yield* sitesOf(side)));
  yield* takeNamed(sites);
  takeRenamed(sides);
  return sides;
}

interface Weighed {
  site: Site;
  open: readonly Match[];
  weight: readonly [number, number, number];
}

/** A site's weight only falls while others take copies, so it is weighed again when its turn comes. */
function* takeNamed(sites: readonly Site[]): Steps<void> {
  const waiting = sites.map(weigh).sort(lightestFirst);
  for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
    yield;
    const now = weigh(next.site);
    if (now.open.length === 0) continue;
    if (lightestFirst(now, next) < 0) insert(waiting, now);
    else takeSite(now);
  }
}

function weigh(site: Site): Weighed {
  const open = openMatches(site);
  return { site, open, weight: weightOf(open) };
}

function takeSite({ site, open }: Weighed): void {
  for (const { slot, copy, base, prefix } of open) {
    take(copy, site.side);
    slot.taken = { copy, renamed: false, base, prefix };
  }
}

function insert(sorted: Weighed[], one: Weighed): void {
  let [low, high] = [0, sorted.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    const there = sorted[middle];
    if (there !== undefined && lightestFirst(there, one) < 0) low = middle + 1;
    else high = middle;
  }
  sorted.splice(low, 0, one);
}

function lightestFirst(one: Weighed, other: Weighed): number {
  return (
    one.weight[0] - other.weight[0] ||
    one.weight[1] - other.weight[1] ||
    one.weight[2] - other.weight[2] ||
    order(siteKey(other.site), siteKey(one.site))
  );
}

function siteKey({ side, volume, base }: Site): string {
  return `${volume}\0${base}\0${side.inventory.id}`;
}
