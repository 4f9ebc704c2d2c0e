/*
 * Eight hours of a volume at work, as shares of what it gives every 10 s: an edit that plays and pauses, caches that are written in
 * bursts of up to a minute and a half with a minute and a half at least between two (closer together they would be a spell of their
 * own), and three spells in which it is really too much. Invented; the numbers come from a small
 * generator (mulberry32, public domain) that gives the same day for the same seed.
 */

export const STEP = 10;
const STEPS = (8 * 3600) / STEP;

export interface NoisyDay {
  shares: number[];
  /** The spells, seconds from the beginning. */
  spells: { from: number; to: number }[];
}

/** A generator of numbers from 0 to 1. */
export function generator(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** `hours`: about when its spells begin, each up to an hour later. */
export function noisyDay(seed: number, hours: readonly number[] = [1.2, 3.6, 6.1]): NoisyDay {
  const random = generator(seed);
  const spells = hours.map((hour) => {
    const from = Math.round((hour + random()) * 3600);
    return { from, to: from + 480 + Math.round(random() * 900) };
  });
  const shares: number[] = [];
  let burst = 0;
  let rest = 0;
  for (let step = 0; step < STEPS; step++) {
    const at = step * STEP;
    if (burst === 0 && rest === 0 && random() < 0.05) [burst, rest] = [1 + Math.floor(random() * 9), 9];
    const isPlaying = Math.floor(at / 240) % 3 > 0;
    const normal = (isPlaying ? 0.5 : 0.15) + 0.12 * (random() + random() + random() - 1.5);
    const spell = spells.some(({ from, to }) => at >= from && at < to);
    const share = spell ? 0.93 + 0.25 * (random() - 0.5) : burst > 0 ? 0.8 + 0.25 * random() : normal;
    if (burst > 0) burst -= 1;
    else if (rest > 0) rest -= 1;
    shares.push(Math.max(0, share));
  }
  return { shares, spells };
}
