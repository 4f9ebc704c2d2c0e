import type { Ratio } from '../model.ts';
import { type AngleClip, DAY, type TimedClip, timedClip, type WallTime } from './clip-times.ts';
import { clockAhead } from './clock-offset.ts';
import { type TimecodeMode, timecodeMode } from './timecode-mode.ts';

/** What a span's start rests on. */
export type ClockBasis = 'timecode' | 'timecode-undated' | 'recorded-at' | 'recorded-at-local' | 'file-time';

/**
 * What a span's seconds are counted on; spans of different ones are never compared. `shared`: the timecode where any camera's runs with
 * the clock, with recording times moved onto it; else recording times as instants. `local`: recording times of no known zone.
 */
export type Timeline = 'shared' | 'local' | 'undated';

/** When one clip ran, on a timeline it shares with others, and what playing it reads. */
export interface ClipSpan {
  unit: string;
  path: string;
  readyAt: number;
  camera: string | null;
  cameraConfidence: number;
  reel: string | null;
  /** Seconds of the timeline. */
  startSeconds: number;
  endSeconds: number;
  timeline: Timeline;
  clockBasis: ClockBasis;
  /** By how much its camera's clock was found to be ahead of the others', and was set back, seconds. */
  setBackSeconds: number;
  /** Added to a second of the timeline gives seconds since 1970; `null` when the wall clock is not known. */
  toWallSeconds: number | null;
  startTimecode: string | null;
  frameRate: Ratio | null;
  rateBps: number;
  sdBps: number;
}

/** The timecode of a clip whose camera nobody could tell about lies no further than this from the others' by its recording time. */
const PLAUSIBLE = 3 * 3600;

/** Two clips of one camera overlap by more than this share of the shorter: it cannot have recorded both. */
const IMPOSSIBLE_OVERLAP = 0.1;
const IMPOSSIBLE_SHARE = 0.3;

/**
 * Spans of the clips of one session that count as angles: original picture with a known length and time. Timecode that runs with
 * the clock is dated by the recording time; where it runs only while recording, or there is none, the recording time counts, and
 * last when the file was written, unless that was the copy. Then the clocks of the cameras are set side by side (`clockAhead`).
 * `sdBps` is the spread between clips of one format; peaks inside a clip are not known.
 */
export function spansOf(clips: readonly AngleClip[]): ClipSpan[] {
  const timed = clips.map(timedClip).filter((one) => one !== null);
  return spansOfTimed(timed);
}

/** The same from clips that were read already. */
export function spansOfTimed(timed: readonly TimedClip[]): ClipSpan[] {
  const believed = withoutCopiedTimes(timed);
  const modes = modesOf(believed);
  const offset = commonOffset(believed.filter(({ camera }) => modes.get(camera) !== 'record-run'));
  const sdBps = spreadByFormat(believed);
  const spans = believed.flatMap((one) => {
    const clock = startOf(one, modes.get(one.camera) ?? 'unknown', offset);
    return clock === null ? [] : [spanOf(one, sdBps(one.clip), clock)];
  });
  return setSideBySide(spans);
}

type Start = Pick<ClipSpan, 'startSeconds' | 'timeline' | 'clockBasis' | 'toWallSeconds'>;

/** A file's own time that would have one camera record two clips at once was not the camera's. */
function withoutCopiedTimes(timed: readonly TimedClip[]): TimedClip[] {
  const impossible = new Set<string | null>();
  for (const [camera, all] of Map.groupBy(timed, (one) => one.camera)) {
    const byFile = all.filter(({ wall }) => wall?.told === 'file').toSorted((a, b) => wallOf(a) - wallOf(b));
    const overlaps = byFile.filter((one, index) => {
      const next = byFile[index + 1];
      if (next === undefined) return false;
      const shorter = Math.min(one.durationSeconds, next.durationSeconds);
      return wallOf(one) + one.durationSeconds - wallOf(next) > Math.max(2, IMPOSSIBLE_OVERLAP * shorter);
    });
    if (overlaps.length > IMPOSSIBLE_SHARE * (byFile.length - 1)) impossible.add(camera);
  }
  if (impossible.size === 0) return [...timed];
  return timed.map((one) => (one.wall?.told === 'file' && impossible.has(one.camera) ? { ...one, wall: null } : one));
}

function wallOf({ wall }: TimedClip): number {
  return wall?.seconds ?? 0;
}

function modesOf(timed: readonly TimedClip[]): Map<string | null, TimecodeMode> {
  const byCamera = Map.groupBy(timed, ({ camera }) => camera);
  return new Map([...byCamera].map(([camera, clips]) => [camera, timecodeMode(clips)]));
}

/**
 * Where most clips' recording time lies from their timecode, in seconds of a day (circular mean): the zone, or the hour
 * at which the generator was started. Days are then cut at the opposite side of the clock, so that neither midnight nor
 * any time zone parts two clips that ran together. Of instants and of times of no known zone apart; `null` without any.
 */
function commonOffset(timed: readonly TimedClip[]): Offset {
  const both = timed.filter(({ timecode, wall }) => timecode !== null && wall !== null && wall.told !== 'day');
  const of = (isLocal: boolean) => circularMean(both.filter(({ wall }) => (wall?.told === 'local-time') === isLocal));
  return { any: circularMean(both) ?? 0, instant: of(false), local: of(true) };
}

interface Offset {
  any: number;
  instant: number | null;
  local: number | null;
}

function circularMean(timed: readonly TimedClip[]): number | null {
  if (timed.length === 0) return null;
  let [x, y] = [0, 0];
  for (const one of timed) {
    const angle = ((wallOf(one) - (one.timecode ?? 0)) / DAY) * 2 * Math.PI;
    x += Math.cos(angle);
    y += Math.sin(angle);
  }
  return (Math.atan2(y, x) / (2 * Math.PI)) * DAY;
}

function startOf({ timecode, wall }: TimedClip, mode: TimecodeMode, offset: Offset): Start | null {
  if (timecode === null || mode === 'record-run') return wall === null ? null : startByWall(wall, offset);
  if (wall === null) {
    return { startSeconds: timecode, timeline: 'undated', clockBasis: 'timecode-undated', toWallSeconds: null };
  }
  const days = wall.told === 'day' ? wall.seconds / DAY : Math.round((wall.seconds - timecode - offset.any) / DAY);
  const startSeconds = timecode + days * DAY;
  const isPlausible = wall.told === 'day' || Math.abs(wall.seconds - startSeconds - offset.any) <= PLAUSIBLE;
  if (mode === 'unknown' && !isPlausible) return startByWall(wall, offset);
  const isInstant = wall.told === 'instant' || wall.told === 'file';
  const toWallSeconds = isInstant ? wall.seconds - startSeconds : null;
  return { startSeconds, timeline: 'shared', clockBasis: 'timecode', toWallSeconds };
}

/** A recording time is moved onto the timecode's time, where there is one. */
function startByWall({ seconds, told }: WallTime, { instant, local }: Offset): Start | null {
  if (told === 'day') return null;
  if (told === 'local-time') {
    const timeline = local === null ? 'local' : 'shared';
    const clockBasis = 'recorded-at-local';
    return { startSeconds: seconds - (local ?? 0), timeline, clockBasis, toWallSeconds: null };
  }
  const toWallSeconds = instant ?? 0;
  const clockBasis = told === 'file' ? 'file-time' : 'recorded-at';
  return { startSeconds: seconds - toWallSeconds, timeline: 'shared', clockBasis, toWallSeconds };
}

function spanOf(
  { clip, camera, cameraConfidence, rateBps, durationSeconds }: TimedClip,
  sdBps: number,
  start: Start,
): ClipSpan {
  return {
    ...start,
    unit: clip.unit,
    path: clip.paths[0] ?? clip.unit,
    readyAt: clip.readyAt ?? 0,
    camera,
    cameraConfidence,
    reel: clip.facts.reel,
    endSeconds: start.startSeconds + durationSeconds,
    setBackSeconds: 0,
    startTimecode: clip.facts.startTimecode,
    frameRate: clip.facts.frameRate,
    rateBps,
    sdBps,
  };
}

/** One camera after the other, the one with most clips first, is set beside those that came before. */
function setSideBySide(spans: readonly ClipSpan[]): ClipSpan[] {
  return [...Map.groupBy(spans, ({ timeline }) => timeline).values()].flatMap((onOne) => {
    const cameras = [...Map.groupBy(onOne, ({ camera }) => camera)].toSorted(
      ([one, clips], [other, others]) => others.length - clips.length || ((one ?? '') < (other ?? '') ? -1 : 1),
    );
    const set: ClipSpan[] = [];
    for (const [camera, clips] of cameras) {
      const ahead = camera === null ? null : clockAhead(clips.map(stretchOf), set.map(stretchOf));
      set.push(...(ahead === null || ahead === 0 ? clips : clips.map((span) => setBack(span, ahead))));
    }
    return set;
  });
}

function stretchOf({ startSeconds, endSeconds }: ClipSpan): { start: number; end: number } {
  return { start: startSeconds, end: endSeconds };
}

function setBack(span: ClipSpan, seconds: number): ClipSpan {
  const { startSeconds, endSeconds } = span;
  return {
    ...span,
    startSeconds: startSeconds - seconds,
    endSeconds: endSeconds - seconds,
    setBackSeconds: seconds,
  };
}

/** Standard deviation of the rate between clips of one format, weighted by duration; 0 for a single clip. */
function spreadByFormat(timed: readonly TimedClip[]): (clip: AngleClip) => number {
  const sums = new Map<string, { weight: number; rate: number; square: number }>();
  for (const { clip, rateBps, durationSeconds } of timed) {
    const sum = sums.get(formatOf(clip)) ?? { weight: 0, rate: 0, square: 0 };
    sum.weight += durationSeconds;
    sum.rate += durationSeconds * rateBps;
    sum.square += durationSeconds * rateBps * rateBps;
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
