import type { Instant } from '../model.ts';

/**
 * How much footage is exposed, and for how long: the sum over exposed bytes of the seconds since each became so. A terabyte that has
 * had no verified copy for an hour is 1 TB h, as are two for half an hour. Serialisable as JSON.
 */
export interface ExposureTime {
  at: Instant;
  /** Exposed at `at`. */
  bytes: number;
  /** Of the oldest; `null`: not known. */
  since: Instant | null;
  byteSeconds: number;
}

/** What is exposed now; `null` when nobody can tell. */
export type ExposureSeen = { exposedBytes: number; exposedSince: Instant | null } | null;

const BYTE_SECONDS_PER_TBH = 1e12 * 3600;

/**
 * One more look. Bytes that stay grow older by the time that passed, also while nobody looked; new ones start at nothing; bytes that
 * got covered take their share of the sum with them, as if all were of one age. Never more than if all were as old as the oldest:
 * covering the oldest first counts in full, and what a wrong clock added is gone when it is right. A clock that goes back adds
 * nothing. The first look takes all for as old as the oldest: rather a backup too early. What nobody can tell changes nothing.
 */
export function watchExposure(before: ExposureTime | null, seen: ExposureSeen, now: Instant): ExposureTime | null {
  if (seen === null) return before;
  const { exposedBytes: bytes, exposedSince: since } = seen;
  const most = since === null || since > now ? Number.POSITIVE_INFINITY : bytes * ((now - since) / 1000);
  if (before === null) return { at: now, bytes, since, byteSeconds: Number.isFinite(most) ? most : 0 };
  const left = before.bytes > bytes ? bytes / before.bytes : 1;
  return { at: now, bytes, since, byteSeconds: Math.min(exposureAt(before, now).byteSeconds * left, most) };
}

/** The same footage at a later instant, if nothing comes and nothing is covered. */
export function exposureAt(exposure: ExposureTime, now: Instant): ExposureTime {
  const seconds = Math.max(0, now - exposure.at) / 1000;
  return { ...exposure, at: now, byteSeconds: exposure.byteSeconds + exposure.bytes * seconds };
}

/** When it comes to so many terabyte hours; an instant that is past when it has; `null`: never, nothing is exposed. */
export function exposureReaches({ at, bytes, byteSeconds }: ExposureTime, tbHours: number): Instant | null {
  if (bytes <= 0) return null;
  // Rounded up: at that instant it has come to so much, whatever the last digit.
  return at + Math.ceil(((tbHours * BYTE_SECONDS_PER_TBH - byteSeconds) / bytes) * 1000);
}

/** Terabyte hours, for people and thresholds. */
export function tbHours({ byteSeconds }: ExposureTime): number {
  return byteSeconds / BYTE_SECONDS_PER_TBH;
}
