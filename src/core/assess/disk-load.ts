import type { RateEvidence } from './speed-belief.ts';

/** Counters of all devices of a volume at one moment; `atMs` on a clock that does not jump. */
export interface VolumeCounters {
  atMs: number;
  /** Of the device that the file system lies on, or of its members together. */
  readBytes: number;
  writtenBytes: number;
  /** Of each whole drive: time with a request under way, and time of all requests together, ms. */
  drives: readonly { busyMs: number; queuedMs: number }[];
  /** What we did ourselves. */
  own: { readBytes: number; writtenBytes: number };
}

/** What went on in between. Bytes per second. */
export interface LoadSample {
  seconds: number;
  readBps: number;
  writeBps: number;
  /** Of this, ours. */
  ownReadBps: number;
  ownWriteBps: number;
  /** Share of the time in which the drives had something to do, 0..1, on average. */
  busy: number;
  /** Requests that were under way at once for each drive, on average. */
  queue: number;
}

/** Busy for so much of the time, a drive does all it can: if it has enough to choose from. */
const SATURATED_BUSY = 0.95;

/**
 * Requests a drive must have before it to be at its limit. A drive that takes many at once is called busy with a single one. Judgement,
 * no source.
 */
const SATURATED_QUEUE = { hdd: 1.5, ssd: 4, nvme: 8 } as const;

/** A rate in one direction is the most the volume gives there only while hardly anything goes the other way. */
const ONE_WAY = 0.9;

/** Time constant of the smoothing, seconds. */
const SMOOTHED_OVER = 60;

/** `null`: no time passed, or a device was changed: its counters began anew. */
export function loadBetween(before: VolumeCounters, after: VolumeCounters): LoadSample | null {
  const seconds = (after.atMs - before.atMs) / 1000;
  if (seconds <= 0 || before.drives.length !== after.drives.length) return null;
  const moved = (of: (counters: VolumeCounters) => number) => of(after) - of(before);
  const [read, written] = [moved(({ readBytes }) => readBytes), moved(({ writtenBytes }) => writtenBytes)];
  if (read < 0 || written < 0) return null;
  const mean = (of: 'busyMs' | 'queuedMs') =>
    after.drives.reduce((sum, drive, index) => sum + drive[of] - (before.drives[index]?.[of] ?? 0), 0) /
    (after.drives.length * seconds * 1000);
  // The kernel counts what a process asked for, the device what reached it: rounding must not make a negative rest.
  const ours = (of: 'readBytes' | 'writtenBytes', all: number) =>
    Math.min(
      all,
      Math.max(
        0,
        moved(({ own }) => own[of]),
      ),
    );
  return {
    seconds,
    readBps: read / seconds,
    writeBps: written / seconds,
    ownReadBps: ours('readBytes', read) / seconds,
    ownWriteBps: ours('writtenBytes', written) / seconds,
    busy: after.drives.length === 0 ? 0 : Math.min(1, mean('busyMs')),
    queue: after.drives.length === 0 ? 0 : mean('queuedMs'),
  };
}

/** What went on lately, smoothed over a minute: a burst of seconds is no work that playback has to live with. */
export function lately(before: LoadSample | null, now: LoadSample): LoadSample {
  if (before === null) return now;
  const weight = 1 - Math.exp(-now.seconds / SMOOTHED_OVER);
  const mix = (key: 'readBps' | 'writeBps' | 'ownReadBps' | 'ownWriteBps') =>
    before[key] + weight * (now[key] - before[key]);
  const [readBps, writeBps] = [mix('readBps'), mix('writeBps')];
  return { ...now, readBps, writeBps, ownReadBps: mix('ownReadBps'), ownWriteBps: mix('ownWriteBps') };
}

/** Did the drives do all they can? Of drives of an unknown kind the most is asked. */
export function isSaturated({ busy, queue }: LoadSample, drive: keyof typeof SATURATED_QUEUE | null): boolean {
  return busy >= SATURATED_BUSY && queue >= SATURATED_QUEUE[drive ?? 'nvme'];
}

/** What a sample says of how fast the volume is: its most under saturation, else that it is at least so fast. */
export function evidenceOf(
  sample: LoadSample,
  saturated: boolean,
  at: number,
): { read: RateEvidence; write: RateEvidence } {
  const all = sample.readBps + sample.writeBps;
  const of = (bps: number): RateEvidence => {
    const isMost = saturated && bps >= ONE_WAY * all;
    return { bps, source: isMost ? 'saturated' : 'reached', at };
  };
  return { read: of(sample.readBps), write: of(sample.writeBps) };
}
