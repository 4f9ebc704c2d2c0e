import type { Instant } from '../model.ts';

/** ISO 8601 with offset. */
export type IsoTime = string;

/** Writes an instant in the zone that the snapshot is made for. */
export type IsoOf = (instant: Instant) => IsoTime;
