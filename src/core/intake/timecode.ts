import type { Ratio } from '../model.ts';

/*
 * Time of day labels of frames, SMPTE ST 12-1. A label counts in whole frames a second (30 for 29.97). Drop-frame
 * leaves out labels so that they keep to the clock: 2 at 29.97 and 4 at 59.94, at the start of every minute whose
 * number is no multiple of ten. No frame is dropped, only numbers.
 */

export interface Timecode {
  hours: number;
  minutes: number;
  seconds: number;
  frames: number;
  drop: boolean;
}

const LABEL = /^(\d{2}):(\d{2}):(\d{2})([:;])(\d{2,3})$/;
const MINUTES_PER_DAY = 24 * 60;

/** Reads `HH:MM:SS:FF`, or `HH:MM:SS;FF` for drop-frame; `null` for anything else. Whether a rate has such a label: `toFrameNumber`. */
export function parseTimecode(text: string): Timecode | null {
  const parts = LABEL.exec(text);
  if (parts === null) return null;
  const [hours = 0, minutes = 0, seconds = 0] = parts.slice(1, 4).map(Number);
  if (hours > 23 || minutes > 59 || seconds > 59) return null;
  return { hours, minutes, seconds, frames: Number(parts[5]), drop: parts[4] === ';' };
}

/** `HH:MM:SS:FF`, with `;` before the frames when drop-frame. */
export function formatTimecode({ hours, minutes, seconds, frames, drop }: Timecode): string {
  const two = (value: number) => String(value).padStart(2, '0');
  return `${two(hours)}:${two(minutes)}:${two(seconds)}${drop ? ';' : ':'}${two(frames)}`;
}

/** Frames a label counts in a second: 30 for 30000/1001. `null` where the rate is none, or under one frame a second. */
export function countingRate(rate: Ratio): number | null {
  const count = Math.round(rate.num / rate.den);
  return Number.isSafeInteger(count) && count > 0 ? count : null;
}

/**
 * Frames since 00:00:00:00. `null` where the rate has no such label: a frame number too high, drop-frame at a rate that
 * knows none, or a label that drop-frame leaves out.
 */
export function toFrameNumber(timecode: Timecode, rate: Ratio): number | null {
  const count = countingRate(rate);
  if (count === null || timecode.frames >= count) return null;
  const minute = timecode.hours * 60 + timecode.minutes;
  const labels = (minute * 60 + timecode.seconds) * count + timecode.frames;
  if (!timecode.drop) return labels;
  const left = leftOut(rate);
  if (left === null || isLeftOut(timecode, left)) return null;
  return labels - left * (minute - Math.floor(minute / 10));
}

/**
 * The label of a frame counted from 00:00:00:00. Runs on over midnight in both directions (24 hours of labels).
 * `null` where the rate cannot be counted, or knows no drop-frame.
 */
export function fromFrameNumber(frame: number, rate: Ratio, drop: boolean): Timecode | null {
  const count = countingRate(rate);
  const left = drop ? leftOut(rate) : 0;
  if (count === null || left === null || !Number.isSafeInteger(frame)) return null;
  const day = MINUTES_PER_DAY * 60 * count - left * (MINUTES_PER_DAY - MINUTES_PER_DAY / 10);
  const label = withLeftOut(((frame % day) + day) % day, count, left);
  const second = Math.floor(label / count);
  return {
    hours: Math.floor(second / 3600),
    minutes: Math.floor(second / 60) % 60,
    seconds: second % 60,
    frames: label % count,
    drop,
  };
}

/**
 * Seconds of real time from 00:00:00:00 to the start of this frame: frame number times den/num. An hour of 29.97
 * non-drop labels is 3603.6 s, of drop-frame labels 3599.9964 s. `null` for text that is no label of this rate.
 */
export function timecodeToSeconds(text: string, rate: Ratio): number | null {
  const timecode = parseTimecode(text);
  const frame = timecode === null ? null : toFrameNumber(timecode, rate);
  return frame === null ? null : (frame * rate.den) / rate.num;
}

/** Labels left out in a minute: 2 at 29.97, 4 at 59.94; `null` at rates that keep to the clock, or for which ST 12-1 has no rule. */
function leftOut(rate: Ratio): number | null {
  const count = countingRate(rate);
  if ((count !== 30 && count !== 60) || rate.num * 1001 !== count * 1000 * rate.den) return null;
  return count / 15;
}

function isLeftOut({ minutes, seconds, frames }: Timecode, left: number): boolean {
  return minutes % 10 !== 0 && seconds === 0 && frames < left;
}

/** Puts the left-out numbers back, so that the count can be split into minutes and seconds. */
function withLeftOut(frame: number, count: number, left: number): number {
  if (left === 0) return frame;
  const perMinute = count * 60 - left;
  const perTen = perMinute * 10 + left;
  const tens = Math.floor(frame / perTen);
  const rest = frame % perTen;
  const minutes = rest < count * 60 ? 0 : 1 + Math.floor((rest - count * 60) / perMinute);
  return frame + left * (tens * 9 + minutes);
}
