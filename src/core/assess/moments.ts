import { lastRead } from '../backup/last-read.ts';
import type { Instant } from '../model.ts';
import type { Assessment, VolumeAssessment } from './assessment.ts';
import { usedBytes } from './capacity.ts';

/*
 * How each volume stood, kept over time for the plots: a row a minute for two days, one an hour for years. Bytes, and bytes per
 * second. `null`: not known then.
 */

export const MINUTE_MS = 60_000;
export const HOUR_MS = 3_600_000;

/** How long minutes are kept: the plot of a day, and as much again for who looks back. */
export const MINUTES_KEPT_MS = 48 * HOUR_MS;

export interface VolumeMoment {
  /** Beginning of the minute or hour, ms since 1970. */
  at: Instant;
  /** What had to be read at most, and for what. */
  needBps: number | null;
  needFor: string | null;
  /** What might be asked for, the reserve off; the least of it. */
  budgetBps: number | null;
  /** What the drives gave, reading and writing together: in the middle, and at most. */
  givenBps: number | null;
  peakBps: number | null;
  /** At the end. */
  usedBytes: number | null;
  /** Up to where the reserve begins. */
  roomEndBytes: number | null;
  exposedBytes: number | null;
  /** When a copy was last read back by then. */
  verifiedAt: Instant | null;
}

/** How a volume stands now. */
export function momentOf(volume: VolumeAssessment, { at, backups }: Pick<Assessment, 'at' | 'backups'>): VolumeMoment {
  const { speed, load, capacity, safety } = volume;
  const given = load === null ? null : load.readBps + load.writeBps;
  const used = capacity === null ? null : usedBytes(capacity.space);
  return {
    at,
    needBps: speed.demandBps,
    needFor: speed.demandFrom,
    budgetBps: speed.readBudgetBps,
    ...{ givenBps: given, peakBps: given },
    usedBytes: used,
    roomEndBytes: capacity === null || used === null ? null : used + capacity.roomBytes,
    exposedBytes: safety?.exposedBytes ?? null,
    verifiedAt: lastRead(backups, volume.name),
  };
}

/** Several moments, in order of time, as one that begins `at`. `null` where there are none. */
export function foldMoments(moments: readonly VolumeMoment[], at: Instant): VolumeMoment | null {
  if (moments.length === 0) return null;
  const heaviest = moments.reduce((most, one) => ((one.needBps ?? -1) > (most.needBps ?? -1) ? one : most));
  const known = (key: keyof VolumeMoment) => moments.flatMap((one) => (one[key] as number | null) ?? []);
  const given = known('givenBps');
  return {
    at,
    needBps: heaviest.needBps,
    needFor: heaviest.needFor,
    budgetBps: least(known('budgetBps')),
    givenBps: given.length === 0 ? null : Math.round(given.reduce((sum, bps) => sum + bps, 0) / given.length),
    peakBps: most(known('peakBps')),
    usedBytes: known('usedBytes').at(-1) ?? null,
    roomEndBytes: known('roomEndBytes').at(-1) ?? null,
    exposedBytes: known('exposedBytes').at(-1) ?? null,
    verifiedAt: known('verifiedAt').at(-1) ?? null,
  };
}

/** Moments by stretches of `stepMs`, each folded into one; stretches without any are left out. */
export function foldBy(moments: readonly VolumeMoment[], stepMs: number): VolumeMoment[] {
  const stretches = Map.groupBy(moments, ({ at }) => Math.floor(at / stepMs) * stepMs);
  return [...stretches].flatMap(([at, some]) => foldMoments(some, at) ?? []);
}

/**
 * No more moments than `limit`, of even stretches that are whole minutes: what is plotted. What was highest in a stretch stays to be
 * seen. `fromMs`, `toMs`: what the plot shows.
 */
export function thinned(
  moments: readonly VolumeMoment[],
  { fromMs, toMs, limit }: { fromMs: Instant; toMs: Instant; limit: number },
): { stepMs: number; moments: VolumeMoment[] } {
  const stepMs = Math.max(MINUTE_MS, Math.ceil((toMs - fromMs) / limit / MINUTE_MS) * MINUTE_MS);
  const shown = moments.filter(({ at }) => at >= fromMs && at <= toMs);
  // A stretch that is cut by the beginning would be one too many.
  return { stepMs, moments: foldBy(shown, stepMs).slice(-limit) };
}

function least(values: readonly number[]): number | null {
  return values.length === 0 ? null : Math.min(...values);
}

function most(values: readonly number[]): number | null {
  return values.length === 0 ? null : Math.max(...values);
}
