import type { Clip } from '../model.ts';
import type { MulticamGroup } from './assessment.ts';
import type { Playback } from './playback-need.ts';
import type { PlaybackDemand } from './speed-budget.ts';

/** One stream of a playback: mean rate and standard deviation, bytes per second. */
export interface StreamRate {
  meanBps: number;
  sdBps: number;
}

/** Normal quantile of 99 % (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1: 2.326). */
const Z99 = 2.33;

/** Correlation of two cameras' rates: they see the same scene. With .5 the P99 of simulated VBR sums is met (own simulation). */
const SAME_SCENE = 0.5;

/**
 * Bytes per second that playing a clip reads: essence bytes over duration, never the rate in its header (a header that
 * says 50 Mb/s has been seen over packets that make 67). `null` without a duration.
 */
export function clipRateBps(
  clip: Pick<Clip, 'essenceBytes'> & { facts: Pick<Clip['facts'], 'durationSeconds'> },
): number | null {
  const seconds = clip.facts.durationSeconds;
  return seconds !== null && seconds > 0 && clip.essenceBytes > 0 ? clip.essenceBytes / seconds : null;
}

/**
 * Load of streams that play together, bytes per second, exceeded in 1 % of the time: sum of means + 2.33 times the
 * deviation of a sum of correlated streams, sqrt(sum sd_i^2 + c sum_{i != j} sd_i sd_j), c = .5.
 */
export function groupLoad(streams: readonly StreamRate[]): number {
  let mean = 0;
  let sdSum = 0;
  let squares = 0;
  for (const { meanBps, sdBps } of streams) {
    mean += meanBps;
    sdSum += sdBps;
    squares += sdBps * sdBps;
  }
  const variance = squares + SAME_SCENE * (sdSum * sdSum - squares);
  return mean + Z99 * Math.sqrt(Math.max(0, variance));
}

/** The group with the highest peak, or `null` of none. */
export function heaviestGroup(groups: readonly MulticamGroup[]): MulticamGroup | null {
  return groups.reduce<MulticamGroup | null>(
    (best, group) => (best === null || group.peakBps > best.peakBps ? group : best),
    null,
  );
}

/**
 * What a volume must give: its heaviest multicam group, or the stream of the heaviest of its newest clips where that is more.
 * `null` when neither is known.
 */
export function playbackDemand(groups: readonly MulticamGroup[], newest: readonly Clip[]): PlaybackDemand | null {
  const group = heaviestGroup(groups);
  const single = heaviestClip(newest);
  if (group !== null && group.peakBps >= (single?.playback.meanBps ?? 0)) {
    return { playback: playbackOf(group), from: groupInWords(group) };
  }
  return single;
}

/** All angles of a group, played together. */
export function playbackOf(group: MulticamGroup): Playback {
  const { angles, demandBps, peakBps, largestBps } = group;
  return { streams: angles, meanBps: demandBps, spreadBps: peakBps - demandBps, largestBps };
}

/** Of camera originals with a picture alone: sound and stills ask little, and what was made can be made lighter. */
function heaviestClip(clips: readonly Clip[]): PlaybackDemand | null {
  let heaviest: PlaybackDemand | null = null;
  for (const clip of clips) {
    const bps = clip.kind === 'original' && clip.facts.width !== null ? clipRateBps(clip) : null;
    if (bps === null || bps <= (heaviest?.playback.meanBps ?? 0)) continue;
    const playback = { streams: 1, meanBps: bps, spreadBps: 0, largestBps: bps };
    heaviest = { playback, from: `playing ${clip.name} (the heaviest of the newest clips)` };
  }
  return heaviest;
}

function groupInWords(group: MulticamGroup): string {
  return `playing ${group.angles} angles at once (cameras ${group.cameras.join(', ')})`;
}
