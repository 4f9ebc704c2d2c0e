import type { Ratio } from '../../model.ts';
import { countingRate, toFrameNumber } from '../timecode.ts';
import type { StartTimecode } from './structure.ts';

const UNSET = 0xffff_ffff;

/** Flags that SMPTE ST 12-1 keeps beside the tens: two with the hours and frames, one with minutes and seconds. */
const FLAGS = 0xc080_80c0;
const DROP = 0x40;

/**
 * Timecode of the television header, SMPTE ST 268-1: `HHMMSSFF`, a decimal digit in four bits each.
 *
 * Zeros are what a writer leaves that has none: they are a timecode where the same header gives a rate.
 * @param television rate of the television header
 * @param rate the rate that both headers agree on
 * @returns `null` where there is none, no rate to count it with, or `troubles` is told what is wrong with it
 */
export function dpxTimecode(
  told: number,
  television: Ratio | null,
  rate: Ratio | null,
  troubles: string[],
): StartTimecode | null {
  const counting = rate ?? television;
  if (told === UNSET || (told === 0 && television === null)) return null;
  const refused = (words: string) => {
    troubles.push(words);
    return null;
  };
  if (counting === null) return refused('a timecode without a frame rate');
  const digits = ((told & ~FLAGS) >>> 0).toString(16).padStart(8, '0');
  const [hours = 0, minutes = 0, seconds = 0, frames = 0] = (digits.match(/\d\d/g) ?? []).map(Number);
  const isLabel = /^\d{8}$/.test(digits) && hours < 24 && minutes < 60 && seconds < 60;
  const drop = (told & DROP) !== 0 && hasDropFrame(counting);
  const frame = isLabel ? toFrameNumber({ hours, minutes, seconds, frames, drop }, counting) : null;
  if (frame === null) return refused('the timecode in the header is none');
  // The standard has no place for the flag: without it nothing is known at the rates that have drop-frame.
  const note = !drop && hasDropFrame(counting) ? 'told without the drop-frame flag' : null;
  return { place: 'frame-header', frame, rate: counting, drop, note };
}

function hasDropFrame(rate: Ratio): boolean {
  const counted = countingRate(rate);
  return rate.den === 1001 && (counted === 30 || counted === 60);
}
