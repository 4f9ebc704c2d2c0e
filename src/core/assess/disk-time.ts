/*
 * How fast a rotating disk is when it must move between streams. Sources: the arithmetic of positioning and transfer time as in
 * "Operating Systems: Three Easy Pieces", chapter 37 (Hard Disk Drives).
 */

/** What a disk needs for one visit: seconds to the track, turns a minute, bytes a second under the head. */
export interface RotatingDisk {
  seekSeconds: number;
  rpm: number;
  transferBps: number;
}

/** Seconds until the wanted sector comes by, on average: half a turn. */
export function halfTurnSeconds(rpm: number): number {
  return 30 / rpm;
}

/**
 * Bytes per second of a disk that is positioned anew for every `bytes`: bytes / (seek + half turn + bytes / transfer). With
 * `bytes` of `Infinity` it is the transfer rate.
 */
export function visitedBps({ seekSeconds, rpm, transferBps }: RotatingDisk, bytes: number): number {
  if (bytes === Number.POSITIVE_INFINITY) return transferBps;
  return bytes / (seekSeconds + halfTurnSeconds(rpm) + bytes / transferBps);
}

/** Few streams lie near each other; from seven on the way between them is a random one. Fitted, no source. */
const NEAREST = 0.35;
const PER_STREAM = 0.1;

/**
 * Bytes per second, in all, that a disk gives to so many streams that are read side by side, `bytes` at each visit. One stream
 * alone needs no seek.
 */
export function interleavedBps(disk: RotatingDisk, streams: number, bytes: number): number {
  if (streams <= 1) return disk.transferBps;
  const way = Math.min(1, NEAREST + PER_STREAM * streams);
  return visitedBps({ ...disk, seekSeconds: disk.seekSeconds * way }, bytes);
}
