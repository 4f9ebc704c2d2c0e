/** A clip that was recorded, as far as it tells how fast room is used. */
export interface RecordedClip {
  camera: string;
  /** When it was ready, ms since 1970. */
  at: number;
  bytes: number;
  durationSeconds: number;
  /** Codec, raster and frame rate: with another of these the camera begins anew. */
  format: string;
}

/** What one camera records now, bytes per second. */
export interface CameraPace {
  camera: string;
  bps: number;
  /** Of its newest clip. */
  at: number;
}

/** A clip counts half as much as one that lies so many seconds of footage later. */
const HALF_LIFE_SECONDS = 20 * 60;
/** A rate that is so many times another is another setting of the camera, though nothing else tells so. */
const ANOTHER_SETTING = 1.35;
/** Cameras that recorded so long before the newest clip are not there any more. */
const PRESENT_MS = 12 * 3_600_000;

/** The cameras that are there, each with its rate: a mean weighted by length that forgets, begun anew where the format changes. */
export function cameraPaces(clips: readonly RecordedClip[]): CameraPace[] {
  const timed = clips.filter(({ durationSeconds, bytes }) => durationSeconds > 0 && bytes > 0);
  const newest = timed.reduce((latest, { at }) => Math.max(latest, at), Number.NEGATIVE_INFINITY);
  const byCamera = Map.groupBy(
    timed.toSorted((one, other) => one.at - other.at),
    ({ camera }) => camera,
  );
  return [...byCamera.values()].map(paceOf).filter(({ at }) => newest - at <= PRESENT_MS);
}

function paceOf(clips: readonly RecordedClip[]): CameraPace {
  let sums = { bytes: 0, seconds: 0 };
  let last: RecordedClip | null = null;
  for (const clip of clips) {
    const rate = clip.bytes / clip.durationSeconds;
    const before = sums.seconds > 0 ? sums.bytes / sums.seconds : rate;
    const isOther = Math.max(rate / before, before / rate) > ANOTHER_SETTING;
    if (last === null || last.format !== clip.format || isOther) sums = { bytes: 0, seconds: 0 };
    const kept = 2 ** (-clip.durationSeconds / HALF_LIFE_SECONDS);
    sums = { bytes: sums.bytes * kept + clip.bytes, seconds: sums.seconds * kept + clip.durationSeconds };
    last = clip;
  }
  return { camera: last?.camera ?? '', bps: sums.bytes / sums.seconds, at: last?.at ?? 0 };
}

/**
 * Seconds of recording, all cameras together, until so much room is used up; `null`: nobody knows what is recorded.
 * `growthPerByte`: how much a volume grows with each byte of footage (sound, sidecars, renders with it), at least 1.
 */
export function footageSeconds(roomBytes: number, paces: readonly CameraPace[], growthPerByte: number): number | null {
  const bps = paces.reduce((sum, pace) => sum + pace.bps, 0);
  return bps > 0 ? Math.max(0, roomBytes) / (bps * Math.max(1, growthPerByte)) : null;
}
