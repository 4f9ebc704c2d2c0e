import type { VolumeCounters } from './assess/disk-load.ts';

/** What the drives of the volumes do. */
export interface LoadPort {
  /** Counters of these volumes, by name, at one moment; `null`: of this one nothing is told (a network mount has no drives). */
  counters(volumes: readonly string[]): ReadonlyMap<string, VolumeCounters | null>;
}
