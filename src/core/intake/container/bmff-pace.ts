import type { Ratio } from '../../model.ts';
import { exact } from '../frame-rate.ts';

/** Frames a second of the trade (SMPTE ST 12-1, ST 2036-1), for files whose clock is too coarse to hold them. */
const KNOWN_RATES: readonly Ratio[] = [24, 30, 48, 60, 120]
  .flatMap((whole) => [
    { num: whole * 1000, den: 1001 },
    { num: whole, den: 1 },
  ])
  .concat([25, 50, 100].map((num) => ({ num, den: 1 })));

/** Different distances that are counted apart; a file with more of them varies in any case. */
const MAX_DISTANCES = 256;

/** Share of the frames, and of the time, that may be out of step before a rate counts as variable; in any case one frame. */
const OUT_OF_STEP = 0.01;
/** Unless there are fewer than this. */
const FEW_STEPS = 10;

/** A distance stands out when it is that of every fourth sample. */
const STANDS_OUT = 4;

/** The distances between a track's samples, added up run by run (`stts`) or sample by sample (`trun`). */
export interface Pace {
  /** Clock ticks a second; 0: not known. */
  timescale: number;
  samples: number;
  ticks: number;
  last: number;
  tally: Map<number, number>;
  /** The known rates that every sample so far keeps to, to the tick. */
  kept: Ratio[];
}

export interface PaceRate {
  frameRate: Ratio | null;
  variableRate: boolean | null;
}

export function newPace(timescale: number): Pace {
  return { timescale, samples: 0, ticks: 0, last: 0, tally: new Map(), kept: timescale > 0 ? [...KNOWN_RATES] : [] };
}

/** So many samples follow, each this far from the next. */
export function addRun(pace: Pace, count: number, delta: number): void {
  if (count <= 0) return;
  if (pace.kept.length > 0) {
    keepSteady(pace, pace.samples, pace.ticks);
    // Where the last sample of all begins counts, not where it ends.
    keepSteady(pace, pace.samples + count - 1, pace.ticks + (count - 1) * delta);
  }
  pace.samples += count;
  pace.ticks += count * delta;
  pace.last = delta;
  const known = pace.tally.get(delta);
  if (known !== undefined || pace.tally.size < MAX_DISTANCES) pace.tally.set(delta, (known ?? 0) + count);
}

/** The samples of the index followed by those of the fragments; mostly one of the two is empty. */
export function joinPaces(first: Pace, second: Pace): Pace {
  if (first.samples === 0) return second;
  if (second.samples === 0) return first;
  const tally = new Map(first.tally);
  for (const [delta, count] of second.tally) tally.set(delta, (tally.get(delta) ?? 0) + count);
  const samples = first.samples + second.samples;
  return { ...second, samples, ticks: first.ticks + second.ticks, tally, kept: [] };
}

function keepSteady({ timescale, kept }: Pace, sample: number, tick: number): void {
  for (let index = kept.length - 1; index >= 0; index -= 1) {
    const rate = kept[index];
    if (rate !== undefined && Math.abs(tick - (sample * timescale * rate.den) / rate.num) > 1) kept.splice(index, 1);
  }
}

/**
 * The rate of most samples; where no distance stands out among many, the middle one. The last sample's length says nothing
 * of the rate and is left out. A clock too coarse for the rate (milliseconds) makes it stagger: where exactly one known rate
 * explains every sample to the tick, the rate is that one; where several do, the file is too short to tell and none is named.
 */
export function rateOfPace(pace: Pace): PaceRate {
  const steps = pace.samples - 1;
  if (steps < 1 || pace.timescale <= 0) return { frameRate: null, variableRate: null };
  const [delta, most] = commonest(pace);
  const [kept, another] = pace.kept;
  const usual = delta > 0 ? { num: pace.timescale, den: delta } : null;
  if (usual !== null && most === steps) return { frameRate: exact(usual), variableRate: false };
  if (kept !== undefined && another === undefined) return { frameRate: kept, variableRate: false };
  if (usual !== null && isInStep(pace, steps, delta, most)) return { frameRate: exact(usual), variableRate: false };
  if (kept !== undefined || pace.tally.size < 2) return { frameRate: null, variableRate: null };
  return { frameRate: ratio(pace.timescale, most * STANDS_OUT >= steps ? delta : middle(pace)), variableRate: true };
}

/** The distance that half of the samples do not reach, of those that are counted. */
function middle({ tally }: Pace): number {
  const deltas = [...tally.keys()].sort((one, other) => one - other);
  let left = [...tally.values()].reduce((sum, count) => sum + count, 0) / 2;
  for (const delta of deltas) {
    left -= tally.get(delta) ?? 0;
    if (left <= 0) return delta;
  }
  return 0;
}

function isInStep({ ticks, last }: Pace, steps: number, delta: number, most: number): boolean {
  const allowed = Math.max(steps < FEW_STEPS ? 0 : 1, steps * OUT_OF_STEP);
  return steps - most <= allowed && Math.abs(ticks - last - steps * delta) <= allowed * delta;
}

function commonest({ tally, last }: Pace): [delta: number, count: number] {
  let best: [number, number] = [0, 0];
  for (const [delta, counted] of tally) {
    const count = delta === last ? counted - 1 : counted;
    if (count > best[1]) best = [delta, count];
  }
  return best;
}

/** The fraction in its lowest terms; `null` where it is none. */
export function ratio(num: number, den: number): Ratio | null {
  return Number.isSafeInteger(num) && Number.isSafeInteger(den) && num > 0 && den > 0 ? reduced(num, den) : null;
}

function reduced(num: number, den: number): Ratio {
  let [a, b] = [num, den];
  while (b > 0) [a, b] = [b, a % b];
  return { num: num / a, den: den / a };
}
