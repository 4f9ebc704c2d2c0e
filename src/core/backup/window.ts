import type { Instant } from '../model.ts';

/** How fast copying goes. All in bytes per second. */
export interface CopyRates {
  /** What the volume reads, and the share of it that copying may take, 0..1. */
  sourceReadBps: number;
  share: number;
  targetWriteBps: number;
  /** Each copy is read back from its medium. */
  targetReadBps: number;
}

/** Seconds for so many bytes: copied as fast as the slower side lets, then read back. */
export function copySeconds(bytes: number, rates: CopyRates): number {
  return bytes * secondsPerByte(rates);
}

/** Tonight, and the nights to come, as figures. */
export interface NightFigures {
  bytes: number;
  seconds: number;
  windowSeconds: number;
  fits: boolean;
  /** The part of the window that is left over; below 0 when it does not fit. */
  headroom: number;
  /** Most that one night takes. */
  nightBytes: number;
  /** A day brings less than a night takes. */
  keepsUp: boolean;
  /** Nights until what is there in the evening fits its night, this one counted; 0 when there is nothing; `null`: never. */
  nights: number | null;
}

/**
 * How a night's work stands to its window. `bytes`: to be copied tonight; `bytesPerDay`: what each day to come brings. Nights, by
 * what is left over from the days before today: ceil(backlog / (nightBytes - bytesPerDay)).
 */
export function nightFigures(
  { bytes, bytesPerDay, windowSeconds }: { bytes: number; bytesPerDay: number; windowSeconds: number },
  rates: CopyRates,
): NightFigures {
  const seconds = copySeconds(bytes, rates);
  const nightBytes = windowSeconds / secondsPerByte(rates);
  const fits = seconds <= windowSeconds;
  const keepsUp = bytesPerDay < nightBytes;
  return {
    bytes,
    seconds,
    windowSeconds,
    fits,
    headroom: (windowSeconds - seconds) / windowSeconds,
    nightBytes,
    keepsUp,
    nights: nightsFor(bytes, bytesPerDay, { fits, keepsUp, nightBytes }),
  };
}

function nightsFor(
  bytes: number,
  bytesPerDay: number,
  { fits, keepsUp, nightBytes }: Pick<NightFigures, 'fits' | 'keepsUp' | 'nightBytes'>,
): number | null {
  if (bytes <= 0) return 0;
  if (fits) return 1;
  return keepsUp ? Math.ceil((bytes - bytesPerDay) / (nightBytes - bytesPerDay)) : null;
}

/**
 * When a shelf will be full, with what still has to go there taken off its room first. `now` when that does not fit; `null`: never,
 * nothing comes.
 */
export function shelfFullAt(
  { freeBytes, bytes, bytesPerDay }: { freeBytes: number; bytes: number; bytesPerDay: number },
  now: Instant,
): Instant | null {
  const left = freeBytes - bytes;
  if (left < 0) return now;
  return bytesPerDay > 0 ? now + Math.round((left / bytesPerDay) * 86_400_000) : null;
}

function secondsPerByte({ sourceReadBps, share, targetWriteBps, targetReadBps }: CopyRates): number {
  return 1 / Math.min(share * sourceReadBps, targetWriteBps) + 1 / targetReadBps;
}
