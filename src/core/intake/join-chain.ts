/** Two that are known to follow each other in time. */
export type Link = readonly [from: string, to: string];

/**
 * Puts links together to chains, in playing order. Where one would have two successors or two predecessors, one of the links
 * is wrong and nobody knows which: none of them counts. Links in a circle are no chain. Any order of links gives the same.
 */
export function chainsOf(links: readonly Link[]): string[][] {
  const next = onlyOne(links.map(([from, to]) => [from, to]));
  const before = onlyOne(links.map(([from, to]) => [to, from]));
  const follows = (from: string) => {
    const to = next.get(from);
    return to !== undefined && before.get(to) === from ? to : undefined;
  };
  const starts = [...next.keys()].filter((key) => {
    const from = before.get(key);
    return from === undefined || follows(from) !== key;
  });
  return starts
    .toSorted()
    .map((start) => chainFrom(start, follows))
    .filter((chain) => chain.length > 1);
}

function chainFrom(start: string, follows: (key: string) => string | undefined): string[] {
  const chain = [start];
  for (let at = follows(start); at !== undefined; at = follows(at)) chain.push(at);
  return chain;
}

/** The one partner that each has; without those that have several. */
function onlyOne(pairs: readonly Link[]): Map<string, string> {
  const found = new Map<string, string>();
  const several = new Set<string>();
  for (const [key, partner] of pairs) {
    if (found.has(key) && found.get(key) !== partner) several.add(key);
    found.set(key, partner);
  }
  for (const key of several) found.delete(key);
  return found;
}
