import type { Ratio } from '../model.ts';
import { positive, type RawTrack, text } from './raw-track.ts';

export interface RateFacts {
  frameRate: Ratio | null;
  variableRate: boolean | null;
}

/** How near a rounded rate must be to an exact one, as a share: half of what parts 30 from 29.97 is five times as much. */
const NEAR = 1e-4;

/**
 * Frame rate of a picture track: exact where the container is exact, else as it is known. A variable rate is told as its
 * average and marked; it is never taken for one of the exact rates of the trade.
 * @param constantByDesign the container has one edit rate for all frames (MXF, AVI)
 */
export function rateOf(track: RawTrack, constantByDesign: boolean): RateFacts {
  const mode = text(track, 'FrameRate_Mode');
  if (mode === 'VFR') {
    // Transport streams are called variable for want of any rate: then nothing is known.
    const average = positive(track, 'FrameRate');
    return average === null
      ? { frameRate: null, variableRate: null }
      : { frameRate: reduce(Math.round(average * 1000), 1000), variableRate: true };
  }
  const frameRate = constantRateOf(track);
  const constant = mode === 'CFR' || (constantByDesign && frameRate !== null);
  return { frameRate, variableRate: constant ? false : null };
}

/** Rate of a track whose rate does not vary, exact where the container is; `null` when it tells none. */
export function constantRateOf(track: RawTrack): Ratio | null {
  const num = positive(track, 'FrameRate_Num');
  const den = positive(track, 'FrameRate_Den');
  if (num !== null && den !== null) return exact({ num, den });
  const decimal = positive(track, 'FrameRate');
  return decimal === null ? null : exact({ num: Math.round(decimal * 1000), den: 1000 });
}

/**
 * The exact form of a rate that may have been rounded: 29970/1000 and 29.97 are 30000/1001 (SMPTE ST 12-1), 25000/1000 is
 * 25. What is near to no such rate stays what it is.
 */
export function exact(rate: Ratio): Ratio {
  const { num, den } = reduce(rate.num, rate.den);
  if (den === 1 || den === 1001) return { num, den };
  const value = num / den;
  const whole = Math.round(value);
  if (isNear(value, whole)) return { num: whole, den: 1 };
  const pulledDown = Math.round(value * 1.001);
  if (isNear(value, pulledDown / 1.001)) return { num: pulledDown * 1000, den: 1001 };
  return { num, den };
}

function isNear(value: number, wanted: number): boolean {
  return wanted > 0 && Math.abs(value - wanted) < wanted * NEAR;
}

function reduce(num: number, den: number): Ratio {
  let [a, b] = [num, den];
  while (b > 0) [a, b] = [b, a % b];
  return { num: num / a, den: den / a };
}
