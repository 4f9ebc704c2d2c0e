import type { VolumeCounters } from './assess/disk-load.ts';
import type { PathText } from './model.ts';

/** What the drives of the volumes do. */
export interface LoadPort {
  /** Counters of these volumes, by name, at one moment; `null`: of this one nothing is told (a network mount has no drives). */
  counters(volumes: readonly string[]): ReadonlyMap<string, VolumeCounters | null>;
  /** Files of these volumes that processes read between the last call and this, as far as can be seen. Never rejects. */
  beingRead(): Promise<ReadonlyMap<string, ReadonlySet<PathText>>>;
}
