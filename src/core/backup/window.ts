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
  /** What a day to come brings. */
  bytesPerDay: number;
  /** Nights until what is there in the evening fits its night, this one counted; 0 when there is nothing; `null`: never. */
  nights: number | null;
}

/**
 * How a night's work stands to its window. `bytes`: to be copied tonight; `bytesPerDay`: what each day to come brings;
 * `secondsPerByte`: to copy one and to read it back. Nights, by what is left over from the days before today: ceil(backlog / (nightBytes - bytesPerDay)).
 */
export function nightFigures(
  { bytes, bytesPerDay, windowSeconds }: { bytes: number; bytesPerDay: number; windowSeconds: number },
  secondsPerByte: number,
): NightFigures {
  const seconds = bytes * secondsPerByte;
  const nightBytes = windowSeconds / secondsPerByte;
  const fits = seconds <= windowSeconds;
  const keepsUp = bytesPerDay < nightBytes;
  return {
    bytes,
    seconds,
    windowSeconds,
    fits,
    headroom: (windowSeconds - seconds) / windowSeconds,
    ...{ nightBytes, bytesPerDay },
    nights: nightsFor(bytes, bytesPerDay, { fits, keepsUp, nightBytes }),
  };
}

function nightsFor(
  bytes: number,
  bytesPerDay: number,
  { fits, keepsUp, nightBytes }: { fits: boolean; keepsUp: boolean; nightBytes: number },
): number | null {
  if (bytes <= 0) return 0;
  if (fits) return 1;
  return keepsUp ? Math.ceil((bytes - bytesPerDay) / (nightBytes - bytesPerDay)) : null;
}
