import type { Instant } from '../model.ts';
import { between, type RateEvidence } from './speed-belief.ts';
import type { StreamPoint } from './stream-share.ts';

/**
 * How it was measured. `direct`: past the page cache (O_DIRECT), on a file system that is known to do so, so it is the drives. `dropped`:
 * written with a flush at the end; read as far past memory as can be asked for, but a cache of the file system's own, of a server or of
 * a FUSE program may have answered.
 */
export type MeasureMethod = 'direct' | 'dropped';

/** Several streams side by side. Latencies are of one request. */
export interface MeasuredStreams extends StreamPoint {
  p50Ms: number;
  p99Ms: number;
}

/** What `headroomd measure` found of a volume, bytes per second. */
export interface SpeedSample {
  volume: string;
  at: Instant;
  method: MeasureMethod;
  readBps: number;
  writeBps: number;
  streams: MeasuredStreams[];
  /** Of the file that was written and read. */
  bytes: number;
  requestBytes: number;
  /** Nothing else went on there, as far as could be seen. */
  idle: boolean;
}

/**
 * What is written when there is room and time: more than the memory of any drive, and than the fast part of most flash drives of that
 * room. A pass also ends after half a minute.
 */
const WANTED_BYTES = 32_000_000_000;
/** With less a measurement would be one of the drive's own memory. */
const FEWEST_BYTES = 256_000_000;
/** Of the room above the reserve not more than this share is taken for a while. */
const SHARE_OF_ROOM = 0.5;
const WHOLE = 4_194_304;

/** How large a file to measure with, in whole steps of 4 MiB; `null`: there is too little room above the reserve. */
export function measureBytes(roomBytes: number, wanted = WANTED_BYTES): number | null {
  const bytes = Math.floor(Math.min(wanted, roomBytes * SHARE_OF_ROOM) / WHOLE) * WHOLE;
  return bytes < FEWEST_BYTES ? null : bytes;
}

/** Room above the reserve that a measurement takes at least. */
export const ROOM_TO_MEASURE = FEWEST_BYTES / SHARE_OF_ROOM;

/**
 * Value that the share `q` (0..1) of the values does not exceed: linear interpolation between order statistics at (n - 1) q, the usual
 * default of statistics packages. `NaN` of none.
 */
export function quantileOf(values: Float64Array | readonly number[], q: number): number {
  const sorted = Float64Array.from(values).sort();
  const at = (sorted.length - 1) * q;
  const [low, high] = [sorted[Math.floor(at)], sorted[Math.ceil(at)]];
  return low === undefined || high === undefined ? Number.NaN : low + (high - low) * (at - Math.floor(at));
}

/** Was it the drives that answered, and no memory? */
export const isOfDrives = ({ method }: Pick<SpeedSample, 'method'>): boolean => method === 'direct';

/**
 * Between which rates the drives read. Where memory may have answered, what was read is the most they can; the least is what they
 * wrote, for what was written had to reach them, and drives seldom read slower than they write (common practice, no source).
 */
export function readBetween(sample: SpeedSample): { low: number; high: number } {
  const { readBps: high, writeBps } = sample;
  return { low: isOfDrives(sample) || writeBps <= 0 ? high : Math.min(high, writeBps), high };
}

/** Samples as evidence; one taken while something else went on says only that so much is possible. */
export function sampleEvidence(samples: readonly SpeedSample[]): { read: RateEvidence[]; write: RateEvidence[] } {
  const seen = samples.filter(({ readBps, writeBps }) => readBps > 0 || writeBps > 0);
  const evidence = (low: number, high: number, { idle, at }: SpeedSample): RateEvidence[] => {
    if (low <= 0) return [];
    if (!idle) return [{ bps: low, source: 'reached', at }];
    return [low === high ? { bps: low, source: 'benchmark', at } : { ...between(low, high), source: 'benchmark', at }];
  };
  return {
    read: seen.flatMap((sample) => evidence(readBetween(sample).low, readBetween(sample).high, sample)),
    write: seen.flatMap((sample) => evidence(sample.writeBps, sample.writeBps, sample)),
  };
}

/** Points of the newest sample, with its single stream. */
export function pointsOf(samples: readonly SpeedSample[]): StreamPoint[] {
  const newest = samples.reduce<SpeedSample | null>(
    (one, other) => (one !== null && one.at > other.at ? one : other),
    null,
  );
  if (newest === null || !newest.idle || !isOfDrives(newest)) return [];
  const single = { streams: 1, readBps: newest.readBps };
  return [
    single,
    ...newest.streams.filter(({ streams }) => streams > 1).map(({ streams, readBps }) => ({ streams, readBps })),
  ];
}

/** A measurement as it came over the wire; `null` for what is none. */
export function readSample(told: unknown): SpeedSample | null {
  const { volume, at, method, readBps, writeBps, streams, bytes, requestBytes, idle } = Object(
    told,
  ) as Partial<SpeedSample>;
  if (typeof volume !== 'string' || typeof idle !== 'boolean') return null;
  if (method !== 'direct' && method !== 'dropped') return null;
  const numbers = [at, readBps, writeBps, bytes, requestBytes];
  if (!numbers.every(isPositive) || !Array.isArray(streams) || !streams.every(isStreams)) return null;
  return told as SpeedSample;
}

function isStreams(told: unknown): boolean {
  const { streams, readBps, p50Ms, p99Ms } = Object(told) as Partial<MeasuredStreams>;
  return [streams, readBps, p50Ms, p99Ms].every(isPositive);
}

function isPositive(value: unknown): boolean {
  return typeof value === 'number' && Number.isFinite(value) && value > 0;
}
