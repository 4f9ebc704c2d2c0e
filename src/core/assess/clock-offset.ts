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
/** Clips of the camera that vote for a difference, at least; a single one says nothing, however many ran beside it. */
const FEWEST_CLIPS = 3;
/** Votes for each clip of the camera, at least. */
const SHARE = 0.35;
/** The strongest difference beats every other that lies further from it than this, seconds, by so much. */
const APART = 20;
const STRONGER = 1.8;
/** Where no difference has nearly as many votes as the strongest, the clocks are right. */
const NEARLY = 0.7;

/**
 * By how much the clock of one camera is ahead of the others', seconds; `null`: nothing tells, and the clocks are taken as they are.
 * Cameras that record together are started and stopped together: each two starts, and each two ends, vote for their difference.
 */
export function clockAhead(clips: readonly Stretch[], others: readonly Stretch[]): number | null {
  const votes = votesOf(clips, others);
  const bins = binned(votes);
  const best = strongest(bins, () => true);
  if (best === null || best.votes < SHARE * clips.length) return null;
  const second = strongest(bins, (at) => Math.abs(at - best.at) > APART);
  if (second !== null && best.votes < STRONGER * second.votes) return null;
  if (votesFor(bins, 0) >= NEARLY * best.votes) return 0;
  const near = votes.filter(({ difference }) => Math.abs(difference - best.at) <= SMOOTHED + BIN / 2);
  if (new Set(near.map(({ clip }) => clip)).size < FEWEST_CLIPS) return null;
  const sorted = near.map(({ difference }) => difference).sort((one, other) => one - other);
  return sorted[Math.floor(sorted.length / 2)] ?? null;
}

/** One clip's start beside another's start, or its end beside that one's end. */
interface Vote {
  difference: number;
  /** Which of the camera's clips. */
  clip: number;
}

function votesOf(clips: readonly Stretch[], others: readonly Stretch[]): Vote[] {
  const votes: Vote[] = [];
  const sorted = others.toSorted((one, other) => one.start - other.start);
  for (const [clip, { start, end }] of clips.entries()) {
    for (let index = firstFrom(sorted, start - FURTHEST); index < sorted.length; index++) {
      const other = sorted[index];
      if (other === undefined || other.start > start + FURTHEST) break;
      votes.push({ difference: start - other.start, clip });
      if (Math.abs(end - other.end) <= FURTHEST) votes.push({ difference: end - other.end, clip });
    }
  }
  return votes;
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

/** Votes by the bin of their difference. */
type Bins = ReadonlyMap<number, number>;

function binned(votes: readonly Vote[]): Bins {
  const bins = new Map<number, number>();
  for (const { difference } of votes) {
    const bin = Math.round(difference / BIN);
    bins.set(bin, (bins.get(bin) ?? 0) + 1);
  }
  return bins;
}

/** Votes for `at` seconds and what lies near it. */
function votesFor(bins: Bins, at: number): number {
  const middle = Math.round(at / BIN);
  let votes = 0;
  for (let bin = middle - SMOOTHED / BIN; bin <= middle + SMOOTHED / BIN; bin++) votes += bins.get(bin) ?? 0;
  return votes;
}

function strongest(bins: Bins, counts: (at: number) => boolean): { at: number; votes: number } | null {
  let best: { at: number; votes: number } | null = null;
  for (const bin of bins.keys()) {
    const at = bin * BIN;
    if (!counts(at)) continue;
    const votes = votesFor(bins, at);
    const isBetter = best === null || votes > best.votes || (votes === best.votes && Math.abs(at) < Math.abs(best.at));
    if (isBetter) best = { at, votes };
  }
  return best;
}
