/**
 * The known name that was probably meant, or `null`. Case, hyphens and underscores do not count; beyond that one slip
 * (a letter wrong, missing, extra, or two swapped) is allowed for every three letters of the longer name, at least one
 * and never as many as the name has letters. On a draw the first of `known` wins. With nothing so near, the one known
 * name that begins as `written` does, one of the two being the whole beginning ("warning" and "warn").
 */
export function nearMiss(written: string, known: readonly string[]): string | null {
  let best: string | null = null;
  let bestSlips = Number.POSITIVE_INFINITY;
  for (const name of known) {
    const slips = editDistance(plain(written), plain(name));
    const length = Math.max(plain(written).length, plain(name).length);
    const allowed = Math.min(Math.max(1, Math.floor(length / 3)), length - 1);
    if (slips <= allowed && slips < bestSlips) {
      best = name;
      bestSlips = slips;
    }
  }
  return best ?? begunAlike(written, known);
}

function begunAlike(written: string, known: readonly string[]): string | null {
  const start = plain(written);
  const alike = known.filter((name) => {
    const other = plain(name);
    return Math.min(start.length, other.length) >= 3 && (start.startsWith(other) || other.startsWith(start));
  });
  return alike.length === 1 ? (alike[0] ?? null) : null;
}

/**
 * Optimal string alignment distance: the fewest insertions, deletions, substitutions and swaps of neighbours that turn
 * `a` into `b`, no stretch edited twice. (Damerau 1964; the restricted form, by dynamic programming over three rows.)
 */
export function editDistance(a: string, b: string): number {
  const from = [...a];
  const to = [...b];
  let beforeLast: number[] = [];
  let last = Array.from({ length: to.length + 1 }, (_, j) => j);
  for (const [i, letter] of from.entries()) {
    const row = [i + 1];
    for (const [j, wanted] of to.entries()) {
      const substituted = (last[j] ?? 0) + (letter === wanted ? 0 : 1);
      let least = Math.min(substituted, (last[j + 1] ?? 0) + 1, (row[j] ?? 0) + 1);
      const swapped = i > 0 && j > 0 && letter === to[j - 1] && from[i - 1] === wanted;
      if (swapped) least = Math.min(least, (beforeLast[j - 1] ?? 0) + 1);
      row.push(least);
    }
    beforeLast = last;
    last = row;
  }
  return last[to.length] ?? 0;
}

function plain(name: string): string {
  return name.toLowerCase().replace(/[-_ ]/g, '').slice(0, 100);
}
