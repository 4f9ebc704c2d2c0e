/** When a clip ran, by its camera's clock, seconds. */
export interface Stretch {
  start: number;
  end: number;
}

/** Clocks that are further apart are not set side by side. */
const FURTHEST = 7200;
const BIN = 2;
/** Differences within so many seconds are one: people press two buttons one after the other. */
const SMOOTHED = 4;
const FEWEST_VOTES = 3;
/** The strongest difference beats every other that lies further from it than this, by so much. */
const APART = 20;
const STRONGER = 1.8;
/** Votes for each clip of the camera, at least. */
const SHARE = 0.35;
/** Where no difference has nearly as many votes as the strongest, the clocks are right. */
const NEARLY = 0.7;

/**
 * By how much the clock of one camera is ahead of the others', seconds; `null`: nothing tells, and the clocks are taken as they are.
 * Cameras that record together are started and stopped together: each two starts, and each two ends, vote for their difference.
 */
export function clockAhead(clips: readonly Stretch[], others: readonly Stretch[]): number | null {
  const differences = votesOf(clips, others);
  const bins = binned(differences);
  const best = strongest(bins, () => true);
  if (best === null || best.votes < FEWEST_VOTES || best.votes < SHARE * clips.length) return null;
  const second = strongest(bins, (at) => Math.abs(at - best.at) > APART);
  if (second !== null && best.votes < STRONGER * second.votes) return null;
  if (smoothedVotes(bins, 0) >= NEARLY * best.votes) return 0;
  const near = differences.filter((difference) => Math.abs(difference - best.at) <= SMOOTHED + BIN / 2);
  return near.toSorted((one, other) => one - other)[Math.floor(near.length / 2)] ?? null;
}

function votesOf(clips: readonly Stretch[], others: readonly Stretch[]): number[] {
  const differences: number[] = [];
  const sorted = others.toSorted((one, other) => one.start - other.start);
  for (const { start, end } of clips) {
    for (let index = firstFrom(sorted, start - FURTHEST); index < sorted.length; index++) {
      const other = sorted[index];
      if (other === undefined || other.start > start + FURTHEST) break;
      differences.push(start - other.start);
      if (Math.abs(end - other.end) <= FURTHEST) differences.push(end - other.end);
    }
  }
  return differences;
}

/** Index of the first that starts at `from` or later. */
function firstFrom(sorted: readonly Stretch[], from: number): number {
  let [low, high] = [0, sorted.length];
  while (low < high) {
    const middle = (low + high) >>> 1;
    if ((sorted[middle]?.start ?? 0) < from) low = middle + 1;
    else high = middle;
  }
  return low;
}

function binned(differences: readonly number[]): Map<number, number> {
  const bins = new Map<number, number>();
  for (const difference of differences) {
    const bin = Math.round(difference / BIN);
    bins.set(bin, (bins.get(bin) ?? 0) + 1);
  }
  return bins;
}

/** Votes for `at` seconds and what lies near it. */
function smoothedVotes(bins: ReadonlyMap<number, number>, at: number): number {
  const middle = Math.round(at / BIN);
  let votes = 0;
  for (let bin = middle - SMOOTHED / BIN; bin <= middle + SMOOTHED / BIN; bin++) votes += bins.get(bin) ?? 0;
  return votes;
}

function strongest(
  bins: ReadonlyMap<number, number>,
  counts: (at: number) => boolean,
): { at: number; votes: number } | null {
  let best: { at: number; votes: number } | null = null;
  for (const bin of bins.keys()) {
    const at = bin * BIN;
    if (!counts(at)) continue;
    const votes = smoothedVotes(bins, at);
    const isBetter = best === null || votes > best.votes || (votes === best.votes && Math.abs(at) < Math.abs(best.at));
    if (isBetter) best = { at, votes };
  }
  return best;
}
