import { fromFrameNumber, toFrameNumber } from '../timecode.ts';
import type { StartTimecode } from './structure.ts';
import type { NotedClock } from './wave-notes.ts';

/**
 * The timecode at which a sound begins, from its samples after midnight: only where the recorder noted the rate and the
 * drop-frame flag, since samples alone are no label.
 *
 * Frame = samples x rate / samples a second, in whole numbers, rounded down. At 29.97 a frame has 1601.6 samples, so a sound
 * that begins with a frame is stamped with the sample before or behind its edge: less than one sample too early counts as
 * on the edge. Labels begin again after 24 hours of them (SMPTE ST 12-1).
 * @param samplesPerSecond those that `samples` are counted in
 * @returns `null` where the rate or flag is not noted, or `troubles` is told why
 */
export function soundTimecode(
  samples: bigint,
  samplesPerSecond: number,
  clock: NotedClock,
  troubles: string[],
): StartTimecode | null {
  const { rate, drop } = clock;
  if (rate === null || drop === null) return null;
  const refused = (words: string) => {
    troubles.push(words);
    return null;
  };
  // The last frame that begins before `samples` + 1.
  const count = ((samples + 1n) * BigInt(rate.num) - 1n) / (BigInt(samplesPerSecond) * BigInt(rate.den));
  if (count > BigInt(Number.MAX_SAFE_INTEGER)) return refused('the time reference is beyond any day');
  const label = fromFrameNumber(Number(count), rate, drop);
  const frame = label === null ? null : toFrameNumber(label, rate);
  if (frame === null) return refused('the notes (iXML) tell of drop-frame at a rate that knows none');
  const note = BigInt(frame) === count ? null : 'the time reference lies behind midnight of the next day';
  return { place: 'sound-header', frame, rate, drop, note };
}
