import { type GrowthHour, HOUR_MS, HOURS_A_DAY } from './growth.ts';

/** What was known of a volume at one moment. */
export interface GrowthMark {
  /** ms since 1970. */
  at: number;
  usedBytes: number;
  /** Of all footage on it, wherever it lies and whether it is ready or not. */
  footageBytes: number;
}

/** An hour as it is kept: deletions are booked apart, so that they do not look like growth that went backwards. */
export interface BookedHour extends GrowthHour {
  deletedBytes: number;
}

/** What is deleted at once is more than this share of what can be written; less is a purge of caches, which comes again. */
const DELETED_SHARE = 0.02;
/** And more than the largest purge so often. */
const DELETED_TIMES = 3;
/** What a volume gained while nobody looked is spread over so many hours at most. */
const MOST_SPREAD_HOURS = 48;

/**
 * Books what happened from one mark to the next. Footage that came is ingest; footage that went is a deletion; of the rest a drop that
 * is larger than what came lately, than any purge and than 2 % of the volume is one, too. A clock that was set back books into the hour
 * that it shows. `lately`: what is booked of the last days.
 */
export function bookGrowth(
  mark: GrowthMark,
  now: GrowthMark,
  lately: readonly BookedHour[],
  capacityBytes: number,
): BookedHour[] {
  const footage = now.footageBytes - mark.footageBytes;
  const rest = now.usedBytes - mark.usedBytes - footage;
  const deletion = deletedOf(rest, now, lately, capacityBytes);
  const again = bookedTwice(footage, rest, now, lately);
  const sums = {
    ingestBytes: Math.max(0, footage),
    otherBytes: rest + deletion - again,
    deletedBytes: Math.max(0, -footage) + deletion - again,
  };
  if (Object.values(sums).every((bytes) => bytes === 0)) return [];
  return spread(sums, mark.at, now.at);
}

/** What of a drop is a deletion, bytes above 0. Files that arrive are in use a moment before they are known as footage: no drop. */
function deletedOf(rest: number, now: GrowthMark, lately: readonly BookedHour[], capacityBytes: number): number {
  const since = now.at / HOUR_MS - HOURS_A_DAY;
  const came = lately.reduce((sum, { hour, otherBytes }) => sum + (hour >= since ? Math.max(0, otherBytes) : 0), 0);
  const purge = lately.reduce((largest, { otherBytes }) => Math.max(largest, -otherBytes), 0);
  const drop = -rest - came;
  return drop > Math.max(DELETED_SHARE * capacityBytes, DELETED_TIMES * purge) ? drop : 0;
}

/** Footage that is deleted is out of use a moment before it is known to be gone: it is booked as deleted by then. */
function bookedTwice(footage: number, rest: number, now: GrowthMark, lately: readonly BookedHour[]): number {
  if (footage >= 0 || rest <= 0) return 0;
  const since = now.at / HOUR_MS - HOURS_A_DAY;
  const deleted = lately.reduce((sum, { hour, deletedBytes }) => sum + (hour >= since ? deletedBytes : 0), 0);
  return Math.min(rest, -footage, Math.max(0, deleted));
}

function spread(sums: Omit<BookedHour, 'hour'>, from: number, to: number): BookedHour[] {
  const last = Math.floor(to / HOUR_MS);
  const first = Math.min(last, Math.max(Math.floor(from / HOUR_MS), last - MOST_SPREAD_HOURS + 1));
  const hours = last - first + 1;
  const part = (bytes: number, at: number) => Math.round((bytes * (at + 1)) / hours) - Math.round((bytes * at) / hours);
  return Array.from({ length: hours }, (_, at) => ({
    hour: first + at,
    ingestBytes: part(sums.ingestBytes, at),
    otherBytes: part(sums.otherBytes, at),
    deletedBytes: part(sums.deletedBytes, at),
  }));
}

/** Adds what is booked to what is known, hour by hour. */
export function withBooked(known: ReadonlyMap<number, BookedHour>, booked: readonly BookedHour[]): BookedHour[] {
  return booked.map((one) => {
    const before = known.get(one.hour);
    return {
      hour: one.hour,
      ingestBytes: one.ingestBytes + (before?.ingestBytes ?? 0),
      otherBytes: one.otherBytes + (before?.otherBytes ?? 0),
      deletedBytes: one.deletedBytes + (before?.deletedBytes ?? 0),
    };
  });
}
