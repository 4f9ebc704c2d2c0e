import { timecodeToSeconds } from '../intake/timecode.ts';
import type { Clip, ClipFacts } from '../model.ts';
import { cameraOf } from './camera.ts';
import { clipRateBps } from './stream-load.ts';

export const DAY = 86_400;

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
  /** Of its first file, ms since 1970: when it was written last, and when it was first seen. */
  fileTimes?: { writtenAt: number; firstSeenAt: number } | null;
  /** ms since 1970. */
  readyAt?: number;
};

/** When the recording began, by the wall. */
export interface WallTime {
  /** Seconds since 1970; of a time of no known zone as if it were UTC. */
  seconds: number;
  /** What it rests on: an instant, a time of no known zone, a date alone, or when the file was written last. */
  told: 'instant' | 'local-time' | 'day' | 'file';
}

/** A clip that may be an angle, with what tells when it ran. */
export interface TimedClip {
  clip: AngleClip;
  camera: string | null;
  cameraConfidence: number;
  rateBps: number;
  durationSeconds: number;
  /** Of its first frame, seconds of a day; `null`: none, or a counter that was never set. */
  timecode: number | null;
  wall: WallTime | null;
}

/** A file that was written just before it was first seen, or after, was written by the copy, not by the camera. */
const COPIED_WITHIN = 120;

/** Reads the clip; `null` for what is no angle: no original picture, no known length or rate, or no time at all. */
export function timedClip(clip: AngleClip): TimedClip | null {
  const rateBps = clipRateBps(clip);
  if (clip.kind !== 'original' || clip.facts.width === null || rateBps === null) return null;
  const durationSeconds = clip.facts.durationSeconds ?? 0;
  const timecode = timecodeSeconds(clip);
  const wall = recordedTime(clip) ?? writtenTime(clip, durationSeconds);
  if (timecode === null && (wall === null || wall.told === 'day')) return null;
  const { camera, confidence } = cameraOf(clip);
  return { clip, camera, cameraConfidence: confidence, rateBps, durationSeconds, timecode, wall };
}

function timecodeSeconds({ facts: { startTimecode, frameRate } }: AngleClip): number | null {
  if (startTimecode === null || frameRate === null) return null;
  const seconds = timecodeToSeconds(startTimecode, frameRate);
  return seconds === null || seconds === 0 ? null : seconds;
}

function recordedTime({ facts: { recordedAt, recordedAtBasis } }: AngleClip): WallTime | null {
  if (recordedAt === null || recordedAtBasis === 'file-time') return null;
  try {
    return { seconds: Temporal.Instant.from(recordedAt).epochMilliseconds / 1000, told: 'instant' };
  } catch {
    return localTime(recordedAt);
  }
}

/** A recording time without offset, read as if it were UTC: good for comparing with its like, not for the wall clock. */
function localTime(recordedAt: string): WallTime | null {
  try {
    const utc = Temporal.PlainDateTime.from(recordedAt).toZonedDateTime('UTC');
    return { seconds: utc.epochMilliseconds / 1000, told: /[T ]/.test(recordedAt) ? 'local-time' : 'day' };
  } catch {
    return null;
  }
}

/** A camera writes to the end of its clip; a copy that keeps times keeps this one. */
function writtenTime({ fileTimes }: AngleClip, durationSeconds: number): WallTime | null {
  if (fileTimes === null || fileTimes === undefined) return null;
  const { writtenAt, firstSeenAt } = fileTimes;
  if (firstSeenAt - writtenAt <= COPIED_WITHIN * 1000) return null;
  return { seconds: writtenAt / 1000 - durationSeconds, told: 'file' };
}
