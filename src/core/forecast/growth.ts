/** What came to a volume within one hour, bytes. */
export interface GrowthHour {
  /** Hours since 1970-01-01T00:00Z, whole. */
  hour: number;
  /** Footage that arrived. */
  ingestBytes: number;
  /** Everything else that came or went: renders, caches, their purges. Large deletions are not in it. */
  otherBytes: number;
}

/** The same in steps of 24 hours back from now: 0 is the newest. All lists are as long. */
export interface GrowthDays {
  ingest: number[];
  other: number[];
}

export const HOURS_A_DAY = 24;
export const HOUR_MS = 3_600_000;

/** Further back is another season's work. */
const MOST_DAYS = 120;

/**
 * Days that end now, from the first hour that is known to the newest. They are 24 hours long and not calendar days: no day is
 * longer or shorter for the sake of clocks, and what was shot an hour ago is in the newest.
 */
export function growthDays(hours: readonly GrowthHour[], nowHour: number): GrowthDays {
  const first = hours.reduce((least, { hour }) => Math.min(least, hour), nowHour);
  const days = Math.min(MOST_DAYS, Math.floor((nowHour - first) / HOURS_A_DAY) + 1);
  const sums: GrowthDays = { ingest: new Array(days).fill(0), other: new Array(days).fill(0) };
  for (const { hour, ingestBytes, otherBytes } of hours) {
    const day = Math.floor((nowHour - hour) / HOURS_A_DAY);
    if (day < 0 || day >= days) continue;
    sums.ingest[day] = (sums.ingest[day] ?? 0) + ingestBytes;
    sums.other[day] = (sums.other[day] ?? 0) + otherBytes;
  }
  return sums;
}
