/** Bits per second: bytes over seconds, never what a header promises. `null` where either is not known, or no time passes. */
export function bitRate(bytes: number | null, seconds: number | null): number | null {
  return bytes === null || seconds === null || seconds <= 0 ? null : Math.round((bytes * 8) / seconds);
}
