/** Footage of a project that came on one calendar day. */
export interface ShootDay {
  /** ISO 8601. */
  day: string;
  bytes: number;
  /** All that had come by its end, of what is here now. */
  totalBytes: number;
}

/** How a project grew. */
export interface ProjectGrowth {
  /** Days on which footage came, oldest first. */
  days: ShootDay[];
  /** What came on a middle one of them. */
  middleBytes: number;
}

/** On a day with less than this share of the largest something was added to what was shot. */
const LEAST_SHARE = 0.05;

/** The days on which footage of a project came. `hours`: bytes by the hour since 1970; `dayOf`: the calendar day on which an hour begins. */
export function projectGrowth(
  hours: readonly { hour: number; bytes: number }[],
  dayOf: (hour: number) => string,
): ProjectGrowth | null {
  const sums = new Map<string, number>();
  for (const { hour, bytes } of hours) {
    const day = dayOf(hour);
    sums.set(day, (sums.get(day) ?? 0) + bytes);
  }
  const largest = Math.max(...sums.values());
  let totalBytes = 0;
  const days = [...sums]
    .sort(([one], [other]) => (one < other ? -1 : 1))
    .map(([day, bytes]): ShootDay => {
      totalBytes += bytes;
      return { day, bytes, totalBytes };
    })
    .filter(({ bytes }) => bytes > 0 && bytes >= LEAST_SHARE * largest);
  if (days.length === 0) return null;
  const sorted = days.map(({ bytes }) => bytes).sort((one, other) => one - other);
  return { days, middleBytes: sorted[Math.floor((sorted.length - 1) / 2)] ?? 0 };
}
