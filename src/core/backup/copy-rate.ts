/** How fast copying to a shelf went: bytes that were copied and read back, and the seconds that took, pauses left out. Serialisable as JSON. */
export interface CopyRate {
  bytes: number;
  seconds: number;
}

/** Less than this tells more of opening files than of the drives. */
const LEAST_BYTES = 64e6;
const LEAST_SECONDS = 0.25;

/** With one more run. What was before counts half: shelves fill, files become smaller or larger, cables are changed. */
export function withRun(before: CopyRate | null, run: CopyRate): CopyRate | null {
  if (!isTelling(run)) return before;
  if (before === null) return run;
  return { bytes: before.bytes / 2 + run.bytes, seconds: before.seconds / 2 + run.seconds };
}

/** Seconds to copy a byte and to read it back; `null`: not known. */
export function secondsPerByte(rate: CopyRate | null): number | null {
  return rate === null || !isTelling(rate) ? null : rate.seconds / rate.bytes;
}

function isTelling({ bytes, seconds }: CopyRate): boolean {
  return bytes >= LEAST_BYTES && seconds >= LEAST_SECONDS;
}
