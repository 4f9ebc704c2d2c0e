import { timecodeToSeconds } from '../intake/timecode.ts';
import type { Clip, ClipFacts, Ratio } from '../model.ts';
import { cameraOf } from './camera.ts';
import { clipRateBps } from './stream-load.ts';

/**
 * What a span's seconds are counted on. Spans of different clocks are never compared: a camera's timecode is local
 * time or runs free, its recording time may be UTC or local.
 */
export type ClockBasis = 'timecode' | 'timecode-undated' | 'recorded-at' | 'recorded-at-local';

/** When one clip ran, on a clock it shares with others, and what playing it reads. */
export interface ClipSpan {
  unit: string;
  camera: string | null;
  cameraConfidence: number;
  reel: string | null;
  /** Seconds of the clock that `clockBasis` names. */
  startSeconds: number;
  endSeconds: number;
  clockBasis: ClockBasis;
  /** Added to a second of that clock gives seconds since 1970; `null` when the wall clock is not known. */
  toWallSeconds: number | null;
  startTimecode: string | null;
  frameRate: Ratio | null;
  rateBps: number;
  sdBps: number;
}

const DAY = 86_400;

/** What of a clip is looked at here; of a large project not more is ever held. */
export type AngleClip = Pick<Clip, 'unit' | 'kind' | 'name' | 'paths' | 'essenceBytes'> & {
  facts: Pick<
    ClipFacts,
    | 'codec'
    | 'profile'
    | 'width'
    | 'height'
    | 'frameRate'
    | 'durationSeconds'
    | 'startTimecode'
    | 'reel'
    | 'camera'
    | 'recordedAt'
    | 'recordedAtBasis'
  >;
};

/**
 * Spans of the clips that count as angles: original picture with a known length and time. The timecode is dated by the
 * recording time, else the recording time alone is used; the file's own time is never trusted (a plain copy makes it
 * the copy's). A timecode of zero is a counter that was never set. Timecode that runs only while recording cannot be
 * told from time of day yet. `sdBps` is the spread between clips of one format; peaks inside a clip are not known.
 */
export function spansOf(clips: readonly AngleClip[]): ClipSpan[] {
  const playable = clips.filter(isPicture).flatMap((clip) => {
    const rateBps = clipRateBps(clip);
    return rateBps === null
      ? []
      : [{ clip, rateBps, timecode: timecodeSeconds(clip), recorded: recordedSeconds(clip) }];
  });
  const sdBps = spreadByFormat(playable);
  const offset = commonOffset(playable);
  return playable.flatMap((timed) => {
    const clock = startOf(timed, offset);
    return clock === null ? [] : [spanOf(timed.clip, timed.rateBps, sdBps(timed.clip), clock)];
  });
}

interface Recorded {
  seconds: number;
  /** What the text told: an instant, a time of no known zone, or a date alone. */
  told: 'instant' | 'local-time' | 'day';
}

interface TimedClip {
  clip: AngleClip;
  rateBps: number;
  timecode: number | null;
  recorded: Recorded | null;
}

type Start = Pick<ClipSpan, 'startSeconds' | 'clockBasis' | 'toWallSeconds'>;

function isPicture(clip: AngleClip): boolean {
  return clip.kind === 'original' && clip.facts.width !== null;
}

function spanOf(clip: AngleClip, rateBps: number, sdBps: number, start: Start): ClipSpan {
  const { camera, confidence } = cameraOf(clip);
  return {
    ...start,
    unit: clip.unit,
    camera,
    cameraConfidence: confidence,
    reel: clip.facts.reel,
    endSeconds: start.startSeconds + (clip.facts.durationSeconds ?? 0),
    startTimecode: clip.facts.startTimecode,
    frameRate: clip.facts.frameRate,
    rateBps,
    sdBps,
  };
}

function timecodeSeconds(clip: AngleClip): number | null {
  const { startTimecode, frameRate } = clip.facts;
  if (startTimecode === null || frameRate === null) return null;
  const seconds = timecodeToSeconds(startTimecode, frameRate);
  return seconds === null || seconds === 0 ? null : seconds;
}

function recordedSeconds(clip: AngleClip): Recorded | null {
  const { recordedAt, recordedAtBasis } = clip.facts;
  if (recordedAt === null || recordedAtBasis === 'file-time') return null;
  try {
    return { seconds: Temporal.Instant.from(recordedAt).epochMilliseconds / 1000, told: 'instant' };
  } catch {
    return localSeconds(recordedAt);
  }
}

/** A recording time without offset, read as if it were UTC: good for comparing with its like, not for the wall clock. */
function localSeconds(recordedAt: string): Recorded | null {
  try {
    const utc = Temporal.PlainDateTime.from(recordedAt).toZonedDateTime('UTC');
    return { seconds: utc.epochMilliseconds / 1000, told: /[T ]/.test(recordedAt) ? 'local-time' : 'day' };
  } catch {
    return null;
  }
}

/**
 * Where most clips' recording time lies from their timecode, in seconds of a day (circular mean): the zone, or the hour
 * at which the generator was started. Days are then cut at the opposite side of the clock, so that neither midnight nor
 * any time zone parts two clips that ran together.
 */
function commonOffset(clips: readonly TimedClip[]): number {
  let x = 0;
  let y = 0;
  for (const { timecode, recorded } of clips) {
    if (timecode === null || recorded === null || recorded.told === 'day') continue;
    const angle = ((recorded.seconds - timecode) / DAY) * 2 * Math.PI;
    x += Math.cos(angle);
    y += Math.sin(angle);
  }
  return (Math.atan2(y, x) / (2 * Math.PI)) * DAY;
}

function startOf({ timecode, recorded }: TimedClip, offset: number): Start | null {
  if (timecode === null) return recorded === null ? null : startByRecording(recorded);
  if (recorded === null) return { startSeconds: timecode, clockBasis: 'timecode-undated', toWallSeconds: null };
  const sinceZero = recorded.seconds - timecode;
  const days = recorded.told === 'day' ? recorded.seconds / DAY : Math.round((sinceZero - offset) / DAY);
  const startSeconds = timecode + days * DAY;
  const toWallSeconds = recorded.told === 'instant' ? recorded.seconds - startSeconds : null;
  return { startSeconds, clockBasis: 'timecode', toWallSeconds };
}

function startByRecording({ seconds, told }: Recorded): Start | null {
  if (told === 'day') return null;
  return told === 'instant'
    ? { startSeconds: seconds, clockBasis: 'recorded-at', toWallSeconds: 0 }
    : { startSeconds: seconds, clockBasis: 'recorded-at-local', toWallSeconds: null };
}

/** Standard deviation of the rate between clips of one format, weighted by duration; 0 for a single clip. */
function spreadByFormat(clips: readonly { clip: AngleClip; rateBps: number }[]): (clip: AngleClip) => number {
  const sums = new Map<string, { weight: number; rate: number; square: number }>();
  for (const { clip, rateBps } of clips) {
    const weight = clip.facts.durationSeconds ?? 0;
    const sum = sums.get(formatOf(clip)) ?? { weight: 0, rate: 0, square: 0 };
    sum.weight += weight;
    sum.rate += weight * rateBps;
    sum.square += weight * rateBps * rateBps;
    sums.set(formatOf(clip), sum);
  }
  return (clip) => {
    const sum = sums.get(formatOf(clip));
    if (sum === undefined || sum.weight === 0) return 0;
    const mean = sum.rate / sum.weight;
    return Math.sqrt(Math.max(0, sum.square / sum.weight - mean * mean));
  };
}

function formatOf({ facts }: AngleClip): string {
  const rate = facts.frameRate === null ? '' : `${facts.frameRate.num}/${facts.frameRate.den}`;
  return [facts.codec, facts.profile, facts.width, facts.height, rate].join(' ');
}
