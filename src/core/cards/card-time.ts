import type { Instant } from '../model.ts';
import type { Candidate, Inventory, InventoryFile } from './inventory.ts';

/**
 * How the modification time of a file on a volume stands to that of the card's file.
 * - `same`: equal to 2 s, as FAT keeps it: a copy that kept its time;
 * - `shifted`: off by whole quarters of an hour, as between two zones (FAT keeps local time);
 * - `later`: a copy that did not keep its time, or another file;
 * - `earlier`: it was written before the card's file was: hardly a copy of it;
 * - `unknown`: a time is missing, or the camera's clock runs ahead of ours.
 */
export type TimeRelation = 'same' | 'shifted' | 'later' | 'earlier' | 'unknown';

/** FAT counts modification times in steps of 2 s. Source: Microsoft FAT specification (1.03), "Date and Time Formats". */
export const FAT_STEP_MS = 2_000;

/** All zones in use are whole quarters of an hour off UTC, from -12 h to +14 h (IANA time zone database). */
const QUARTER_MS = 900_000;
const WIDEST_SHIFT_MS = 26 * 3_600_000;

/** `takenAt`: when the inventory was read, by our clock. */
export function timeRelation(
  { mtimeMs }: InventoryFile,
  candidate: Candidate,
  { takenAt }: Pick<Inventory, 'takenAt'>,
): TimeRelation {
  if (mtimeMs === null) return 'unknown';
  const difference = candidate.mtimeMs - mtimeMs;
  if (Math.abs(difference) <= FAT_STEP_MS) return 'same';
  if (isZoneShift(difference)) return 'shifted';
  if (difference > 0) return 'later';
  return isAhead(mtimeMs, takenAt) ? 'unknown' : 'earlier';
}

/** Equal, but for what FAT does not keep: steps of 2 s, and the zone. Two that are not known are the same. */
export function isSameTime(one: number | null, other: number | null): boolean {
  if (one === null || other === null) return one === other;
  return Math.abs(one - other) <= FAT_STEP_MS || isZoneShift(one - other);
}

function isZoneShift(difference: number): boolean {
  const offQuarter = Math.abs(difference) % QUARTER_MS;
  const nearQuarter = Math.min(offQuarter, QUARTER_MS - offQuarter) <= FAT_STEP_MS;
  return nearQuarter && Math.abs(difference) <= WIDEST_SHIFT_MS + FAT_STEP_MS;
}

function isAhead(mtimeMs: Instant, takenAt: Instant): boolean {
  return mtimeMs > takenAt + FAT_STEP_MS;
}
