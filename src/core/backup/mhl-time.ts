import type { Instant } from '../model.ts';
import type { DateTimeText } from './mhl-model.ts';

const NS_PER_MS = 1_000_000n;
/** Years that an XML Schema 1.0 dateTime writes with four digits and no sign: 0001 to 9999. */
const FIRST_NS = -62_135_596_800_000_000_000n;
const END_NS = 253_402_300_800_000_000_000n;

/** An instant as lists write it: in UTC, with its offset. */
export function dateTimeOf(instant: Instant): DateTimeText {
  const text = dateTimeOfNs(BigInt(Math.trunc(instant)) * NS_PER_MS);
  if (text === null) throw new RangeError(`${instant} is no instant of the years 1 to 9999.`);
  return text;
}

/** A file's time, to the microsecond: what `utimes` keeps. `null` outside the years that can be written. */
export function dateTimeOfNs(ns: bigint): DateTimeText | null {
  if (ns < FIRST_NS || ns >= END_NS) return null;
  const micro = Temporal.Instant.fromEpochNanoseconds(ns).round({
    smallestUnit: 'microsecond',
    roundingMode: 'floor',
  });
  return micro.toString({ timeZone: 'UTC' });
}
