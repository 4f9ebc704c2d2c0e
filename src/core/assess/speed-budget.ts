import type { SpeedAssessment } from './assessment.ts';
import { needBps, needParts, type Playback, withMoreStreams } from './playback-need.ts';
import { streamShare } from './stream-share.ts';
import type { VolumeGives } from './volume-speed.ts';

/** What is to be played. */
export interface PlaybackDemand {
  playback: Playback;
  /** What the demand comes from, in words. */
  from: string;
}

/** What else uses the volume, bytes per second. */
export interface AmbientLoad {
  readBps: number;
  writeBps: number;
}

/** More angles than this nobody has. */
const MOST_ANGLES = 1000;

/**
 * Sets demand against budget. budget = what the volume gives x (1 - reserve): the reserve (0..1) is taken off once, here. The
 * budget for reading is the one for as many streams as the demand has. headroom = (budget - demand) / budget, negative in an
 * overrun; further angles are whole streams of the largest one, with all that they bring along. Whatever is not known is `null`.
 */
export function assessSpeed(
  gives: VolumeGives | null,
  reserve: number,
  demand: PlaybackDemand | null,
  ambient: AmbientLoad | null,
): SpeedAssessment {
  const streams = demand?.playback.streams ?? 1;
  const readBudgetBps = gives === null ? null : readBudget(gives, reserve, streams);
  const ambientBps = ambient === null ? 0 : asReading(ambient, gives);
  const parts = demand === null ? null : needParts(demand.playback, ambientBps);
  const demandBps = demand === null ? null : needBps(demand.playback, ambientBps);
  return {
    readBudgetBps,
    writeBudgetBps: gives === null ? null : gives.write.likely * (1 - reserve),
    basis: gives?.read.basis ?? null,
    range: gives === null ? null : rangeOf(gives, reserve, streams),
    gives,
    reserveShare: reserve,
    ambient,
    demandBps,
    demandParts: parts,
    demandFrom: demand?.from ?? null,
    streams: demand?.playback.streams ?? null,
    headroom: headroomOf(readBudgetBps, demandBps),
    anglesLeft: gives === null || demand === null ? null : anglesLeft(gives, reserve, demand.playback, ambientBps),
  };
}

/** What may be asked for by so many streams together, bytes per second. */
export function readBudget(gives: VolumeGives, reserve: number, streams: number): number {
  return gives.read.likely * streamShare(streams, gives.points, gives.drive) * (1 - reserve);
}

/** Writing takes from reading what it takes of the volume's time. */
export function asReading(ambient: AmbientLoad, gives: VolumeGives | null): number {
  const dearer = gives === null ? 1 : gives.read.likely / gives.write.likely;
  return ambient.readBps + ambient.writeBps * dearer;
}

function rangeOf(gives: VolumeGives, reserve: number, streams: number): SpeedAssessment['range'] {
  const share = streamShare(streams, gives.points, gives.drive) * (1 - reserve);
  return {
    readLowBps: gives.read.low * share,
    readHighBps: gives.read.high * share,
    writeLowBps: gives.write.low * (1 - reserve),
    writeHighBps: gives.write.high * (1 - reserve),
  };
}

function headroomOf(budgetBps: number | null, demandBps: number | null): number | null {
  if (budgetBps === null || budgetBps <= 0 || demandBps === null) return null;
  return (budgetBps - demandBps) / budgetBps;
}

function anglesLeft(gives: VolumeGives, reserve: number, playback: Playback, ambientBps: number): number | null {
  if (playback.largestBps <= 0) return null;
  const fits = (more: number) => {
    const grown = withMoreStreams(playback, more);
    return needBps(grown, ambientBps) <= readBudget(gives, reserve, grown.streams);
  };
  let [most, tooMany] = [0, MOST_ANGLES];
  // Need grows with the angles and what is given does not: what fits and what does not are two unbroken stretches.
  while (tooMany - most > 1) {
    const middle = Math.floor((most + tooMany) / 2);
    if (fits(middle)) most = middle;
    else tooMany = middle;
  }
  return fits(1) ? most : 0;
}
