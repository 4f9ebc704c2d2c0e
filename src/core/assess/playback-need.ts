/** What plays together: its streams, bytes per second. */
export interface Playback {
  streams: number;
  /** Mean rates together. */
  meanBps: number;
  /** What they are above that in 1 % of the time (`groupLoad` less the means). */
  spreadBps: number;
  /** Mean rate of the largest single stream: the size of "one more angle". */
  largestBps: number;
}

/** What reading a playback asks of a volume, bytes per second, part by part. `ambientBps` is what else goes on there. */
export interface NeedParts {
  anglesBps: number;
  spreadBps: number;
  /** While one picture goes over into another, one more stream is read. */
  transitionBps: number;
  scrubBps: number;
  ambientBps: number;
}

/** Going back and forth through the angles asks for this share of their rates once more. Judgement, no source. */
const SCRUB_SHARE = 0.1;

/** Everything that is read at once: the angles with their spread, a transition, scrubbing, and what else uses the volume. */
export function needParts(playback: Playback, ambientBps: number): NeedParts {
  return {
    anglesBps: playback.meanBps,
    spreadBps: playback.spreadBps,
    transitionBps: playback.largestBps,
    scrubBps: playback.meanBps * SCRUB_SHARE,
    ambientBps,
  };
}

/** The parts together, bytes per second. */
export function needBps(playback: Playback, ambientBps: number): number {
  const { anglesBps, spreadBps, transitionBps, scrubBps } = needParts(playback, ambientBps);
  return anglesBps + spreadBps + transitionBps + scrubBps + ambientBps;
}

/**
 * The same with so many more streams of the largest rate. Their spread is taken as that of the others: the deviation of n equal
 * streams with a correlation of .5 between any two is sd sqrt(n (n + 1) / 2).
 */
export function withMoreStreams(playback: Playback, more: number): Playback {
  const streams = playback.streams + more;
  const grown = Math.sqrt((streams * (streams + 1)) / (playback.streams * (playback.streams + 1)));
  return {
    streams,
    meanBps: playback.meanBps + more * playback.largestBps,
    spreadBps: playback.spreadBps * grown,
    largestBps: playback.largestBps,
  };
}
